/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "spanish.h"

#include <stdio.h>
#include <string.h>

enum { CAUGHT_MAX = 8 };

const struct spanish_row spanish_rows[] = {
    /* the rules between the members of a record (kind_check.c) */
    {"empty, but %s is given: both or none", "vacío, pero se dio '%s': los dos o ninguno"},
    {"given beside masses, which say the same: one of the two",
     "dado junto a masas, que dicen lo mismo: uno de los dos"},
    {"empty, but a wet mass is given: the porosity needs both",
     "vacío, pero se dio una masa húmeda: la porosidad necesita las dos"},
    {"empty, but mass_dry_g is given: the porosity needs it, or mass_drained_g",
     "vacío, pero se dio 'mass_dry_g': la porosidad lo necesita, o 'mass_drained_g'"},
    {"empty, but air_pct is given: the water is what is left of the pores",
     "vacío, pero se dio 'air_pct': el agua es lo que queda de los poros"},
    {"%g given, so deep a vessel of %g mL is %.3g cm wide; accepted is a width of a tenth of its "
     "depth to 20 times it: check centimetres",
     "recibido: %s; un recipiente tan hondo de %s mL tiene %s cm de ancho; se acepta un ancho de "
     "una décima de su hondura a 20 veces: revise los centímetros"},
    {"'%s' given, which makes pores of %.4g %% of the volume, accepted is above 0, below 100: "
     "check "
     "the volume, and that the vessel is taken off",
     "recibido: '%s', que da poros de %s %% del volumen; se acepta más de 0, menos de 100: revise "
     "el "
     "volumen, y que el peso del recipiente esté descontado"},
    {"0 given: let the vessel drain through open holes for an hour and measure again",
     "recibido: 0; deje escurrir el recipiente una hora con los agujeros abiertos y mida otra vez"},
    {"%g given beside %g, accepted are replicates within a factor of two (a decimal comma, another "
     "vessel?)",
     "recibido: %s junto a %s; se aceptan repeticiones que difieran como mucho al doble (¿una coma "
     "decimal, otro recipiente?)"},
    {"%g g given beside %g g, accepted is dry below drained and drained not above saturated",
     "recibido: %s g junto a %s g; se acepta seco menor que drenado y drenado no mayor que "
     "saturado"},
    {"%.4g %% of the volume drained, accepted is at least 5 points below the total porosity (%.4g "
     "%%)",
     "escurrió el %s %% del volumen; se acepta al menos 5 puntos menos que la porosidad total (%s "
     "%%)"},
    {"empty, but method %s needs it", "vacío, pero el método '%s' lo necesita"},
    {"%s given, accepted only with du_low_quarter_pct from cans",
     "recibido: %s; se acepta solo con 'du_low_quarter_pct' medido con vasos"},
    {"given beside use_l_day, which says the same: one of the two",
     "dado junto a 'use_l_day', que dice lo mismo: uno de los dos"},
    {"empty, but coefficient_of canopy needs it",
     "vacío, pero con 'canopy' en 'coefficient_of' se necesita"},
    {"empty, it is needed unless use_l_day or coefficient is given",
     "vacío; se necesita si no se da 'use_l_day' ni 'coefficient'"},
    {"yes given, accepted only with potted yes",
     "recibido: sí; se acepta solo si 'potted' también es sí"},
    {"empty, but event %s needs it", "vacío, pero el suceso '%s' lo necesita"},
    {"'%s' given, accepted only with event %s", "recibido: '%s'; se acepta solo con el suceso %s"},
    {"given beside another place, accepted is one of %s",
     "dado junto a otro lugar; se acepta uno de %s"},
    {"given beside %s, accepted is one of %s", "dado junto a '%s'; se acepta uno de %s"},
    {"empty, as %s, accepted is one of %s", "vacío, como '%s'; se acepta uno de %s"},
    {"water_pct and air_pct", "'water_pct' y 'air_pct'"},
    {"zone and block", "'zone' y 'block'"},
    {"zone, block and supply, or none", "'zone', 'block' y 'supply', o ninguno"},
    {"zone and supply", "'zone' y 'supply'"},
    {"given beside minutes: one of the two, or neither",
     "dado junto a 'minutes': uno de los dos, o ninguno"},
    {"empty, but a ban needs it: what is still allowed",
     "vacío, pero una prohibición lo necesita: lo que aún se permite"},
    {"given, accepted only with kind ban", "dado, pero se acepta solo si 'kind' es 'ban'"},
    {"empty, but a %s is of a supply, or of all of them",
     "vacío, pero '%s' es de una toma, o de todas"},
    {"given, accepted only with zone: a supply's day is in litres",
     "dado, pero se acepta solo con 'zone': el día de una toma va en litros"},
    {"empty, but something has to be raised", "vacío, pero algo hay que aumentar"},
    {"empty, but permit_from is given", "vacío, pero se dio 'permit_from'"},
    {"a time without any reading, accepted is at least one",
     "una hora sin ninguna lectura; se acepta al menos una"},
    /* what other records say (store_put.c, store_mix.c, store_record.c) */
    {"%g given, %.3g kg below capacity_kg, accepted is at most %.3g below: its pot holds %.3g L",
     "recibido: %s, que es %s kg menos que 'capacity_kg'; se acepta como mucho %s kg menos: su "
     "maceta tiene %s L"},
    {"%g given, accepted is at least %.3g: the water alone that its pot holds weighs %.3g kg",
     "recibido: %s; se acepta como mínimo %s: solo el agua que tiene su maceta pesa %s kg"},
    {"%g given, accepted is at most %g: ten times what %g L a minute are in that time",
     "recibido: %s; se acepta como mucho %s: diez veces lo que son %s L por minuto en ese tiempo"},
    {"block '%s', %s on %s: pots: %lld given, accepted is at most the %lld that stand there then",
     "bloque '%s', '%s' el %s: 'pots': recibido: %s; se aceptan como mucho las %s que hay "
     "entonces"},
    {"'%s' to '%s' given, but the reading from %s to %s overlaps",
     "recibido: de '%s' a '%s', pero la lectura de %s a %s se solapa"},
    {"mix '%s' batch '%s': what was measured by %s gives no curve for a mix of class %s",
     "sustrato '%s', lote '%s': lo medido hasta %s no da curva para un sustrato de clase %s"},
    {"zone '%s': lead_block: '%s' given, accepted is a block of that zone",
     "zona '%s': 'lead_block': recibido: '%s'; se acepta un bloque de esa zona"},
    {"normals: %d months given, accepted are all 12",
     "'normals': recibidos %s meses; se aceptan los 12"},
    {"mix '%s' batch '%s': what was measured by %s cannot be worked out",
     "sustrato '%s', lote '%s': con lo medido hasta %s no se puede calcular"},
    {"mix '%s' batch '%s' %s", "sustrato '%s', lote '%s': %s"},
    {"mix '%s' %s", "sustrato '%s': %s"},
    {"given, accepted is one with a bench test in bench_tests.csv",
     "se acepta uno con un ensayo en bench_tests.csv"},
    {"has a bench test whose figures do not go together",
     "tiene un ensayo cuyas cifras no concuerdan"},
    {"water and air in pot '%s' with mix '%s' cannot be worked out",
     "no se pueden calcular el agua y el aire en la maceta '%s' con el sustrato '%s'"},
    {"pot '%s' with mix '%s' holds %.1f %% water at capacity and its lower limit is %.1f %%: no "
     "water is left for plants",
     "la maceta '%s' con el sustrato '%s' tiene %s %% de agua a capacidad de contenedor y su "
     "límite "
     "inferior es %s %%: no queda agua para las plantas"},
    {"%g x %g cm given, accepted is room for a pot %g cm wide (centre to centre)",
     "recibido: %s x %s cm; se acepta sitio para una maceta de %s cm de ancho (de centro a "
     "centro)"},
    {"other records still name it; accepted is to remove those first",
     "otros registros aún lo nombran; quite primero esos"},
    {"block '%s' from %s: %s: %s", "bloque '%s' desde %s: '%s': %s"},
    /* what one member takes (kind.c, record_json.c) */
    {"nothing", "nada"},
    {"the name '%.40s'", "el nombre '%s'"},
    {"key %s: %.350s", "clave '%s': %s"},
    {"a longer key", "una clave más larga"},
    {"fewer commas", "menos comas"},
    {"an object", "un objeto"},
    {"the same moment as %s, or no such member", "el mismo momento que '%s', o ningún miembro así"},
    {"1 to 40 of a-z, 0-9 and '-'", "de 1 a 40 de a-z, 0-9 y '-'"},
    {"an id of %s.csv: 1 to 40 of a-z, 0-9 and '-'",
     "un id de %s.csv: de 1 a 40 de a-z, 0-9 y '-'"},
    {"an id of %s.csv", "un id de %s.csv"},
    {"up to 200 bytes of text without control characters",
     "hasta 200 bytes de texto sin caracteres de control"},
    {"yes or no", "'yes' o 'no'"},
    {"true or false", "'true' o 'false'"},
    {"one of: %s", "uno de: %s"},
    {"a date from 2000 to 2099 like 2026-03-31", "una fecha de 2000 a 2099 como 2026-03-31"},
    {"a moment from 2000 to 2099 like 2026-03-31T06:00:00+01:00",
     "un momento de 2000 a 2099 como 2026-03-31T06:00:00+01:00"},
    {"a time like 04:00, or sunrise or sunset, or up to 12 hours from it like sunrise-1:00 or "
     "sunset+0:30",
     "una hora como 04:00, o 'sunrise' (salida del sol) o 'sunset' (puesta), o hasta 12 horas "
     "antes "
     "o después, como sunrise-1:00 o sunset+0:30"},
    {"days like mon tue wed, a space between; empty for every day",
     "días como mon tue wed, con un espacio entre ellos; vacío para todos los días"},
    {"an array of days like [\"mon\", \"tue\"]", "una lista de días como [\"mon\", \"tue\"]"},
    {"an array of 1 to 64 numbers, each", "una lista de 1 a 64 números, cada uno"},
    {"1 to 64 numbers, a space between, each",
     "de 1 a 64 números con un espacio entre ellos, cada uno"},
    {"a number", "un número"},
    {"a whole number", "un número entero"},
    /* what is accepted, of kind_check.c */
    {"below the total porosity (%g)", "menos que la porosidad total (%s)"},
    {"above 0, below 100", "más de 0, menos de 100"},
    {"at most the vessel's (%g)", "como mucho lo del recipiente (%s)"},
    {"at most the mix's volume (%g mL)", "como mucho el volumen del sustrato (%s mL)"},
    {"what a mix of this class can release from a vessel of %g cm",
     "lo que un sustrato de esta clase puede soltar de un recipiente de %s cm"},
    {"'%s' given, accepted are numbers", "recibido: '%s'; se aceptan números"},
    {"%.3g to %.3g for these widths and this fill height",
     "de %s a %s para estos anchos y esta altura de sustrato"},
    {"at most three times the spacing (%g cm): in centimetres, across the leaves",
     "como mucho tres veces el marco (%s cm): en centímetros, de hoja a hoja"},
    {"at most %.3g for a canopy of %g cm: in metres",
     "como mucho %s para una copa de %s cm: en metros"},
    {"at most capacity_kg (%g): weigh when the pot has stopped dripping",
     "como mucho 'capacity_kg' (%s): pese cuando la maceta haya dejado de gotear"},
    {"at most %s (%g)", "como mucho '%s' (%s)"},
    {"after %s, by %lld hours at most", "después de '%s', como mucho %s horas más tarde"},
    {"another block", "otro bloque"},
    {"'%s' given, accepted are four cans or more, not all empty",
     "recibido: '%s'; se aceptan cuatro vasos o más, no todos vacíos"},
    {"below given_ml (%g)", "menos que 'given_ml' (%s)"},
    {"the start of a whole hour UTC", "el comienzo de una hora entera UTC"},
    /* the API (api*.c, http.c) */
    {"The records cannot be read or written just now; nothing was changed.",
     "Ahora mismo no se pueden leer ni escribir los registros; no se cambió nada."},
    {"Nothing is here.", "Aquí no hay nada."},
    {"No block has an id that long.", "Ningún bloque tiene un id tan largo."},
    {"No plan has been worked out yet. Ask again soon.",
     "Aún no se ha calculado ningún plan. Pregunte otra vez pronto."},
    {"The plan has no block of that id.", "El plan no tiene ningún bloque con ese id."},
    {"There is no block of that id.", "No hay ningún bloque con ese id."},
    {"No plan comes out: %s", "No sale ningún plan: %s"},
    {"block '%s' from %s: mix '%s' batch '%s' has no bench test by %s",
     "bloque '%s' desde %s: el sustrato '%s', lote '%s', no tiene ningún ensayo hasta %s"},
    {"block '%s': '%s' is no date", "bloque '%s': '%s' no es una fecha"},
    {"records: a window of zone '%s' that cannot be read",
     "registros: unas horas de riego de la zona '%s' que no se pueden leer"},
    {"records: no memory", "registros: falta memoria"},
    {"weather: out of memory", "tiempo: falta memoria"},
    {"out of memory for a plan of %zu blocks", "falta memoria para un plan de %s bloques"},
    {"out of memory for the plan", "falta memoria para el plan"},
    {"out of memory", "falta memoria"},
    {"the weather hours cannot be worked out (%d)",
     "no se pueden calcular las horas del tiempo (%s)"},
    {"no weather at all: neither climate normals (import normals.csv) nor an accepted forecast",
     "no hay datos del tiempo: ni normales del clima (importe 'normals.csv') ni un pronóstico "
     "aceptado"},
    {"the forecast at hand does not reach a day ahead and there are no climate normals (import "
     "normals.csv)",
     "el pronóstico que hay no llega a un día y no hay normales del clima (importe 'normals.csv')"},
    {"block %s: %s", "bloque '%s': %s"},
    {"no plan: %s", "ningún plan: %s"},
    {"its pot and mix hold no water that plants can use",
     "su maceta y su sustrato no tienen agua que la planta pueda usar"},
    {"the plan is larger than it may be", "el plan es mayor de lo que se permite"},
    {"a figure is outside its range", "una cifra está fuera de su rango"},
    {"Not the one in the address.", "No es el de la dirección."},
    {"A preview works out two plans: sign in first.",
     "Una vista previa calcula dos planes: identifíquese primero."},
    {"Accepted is an object with what would change, as {\"pot\": \"r5\"}.",
     "Se acepta un objeto con lo que cambiaría, como {\"pot\": \"r5\"}."},
    {"The plan has no block '%.40s'; accepted are ids of blocks.",
     "El plan no tiene ningún bloque '%s'; se aceptan ids de bloques."},
    {"Accepted is {\"blocks\": [...]} with 1 to %d ids of blocks.",
     "Se acepta {\"blocks\": [...]} con 1 a %s ids de bloques."},
    {"%lld days given, accepted are 1 to %d, up to and with the last",
     "recibidos: %s días; se aceptan de 1 a %s, hasta el último incluido"},
    {"the key of a record", "la clave de un registro"},
    {"There is no such record of %s.", "No hay tal registro de '%s'."},
    {"What was written is not there.", "Lo que se escribió no está."},
    {"%s/%s is this very run: same zone, start and end. Accepted is one report of it, or PUT with "
     "If-Match to correct that one.",
     "'%s/%s' es este mismo riego: misma zona, inicio y fin. Se acepta un solo informe de él, o "
     "PUT con If-Match para corregirlo."},
    {"%s/%s is there already and says something else. Accepted is the same again, or PUT with "
     "If-Match to correct it.",
     "'%s/%s' ya está y dice otra cosa. Se acepta lo mismo otra vez, o PUT con If-Match para "
     "corregirlo."},
    {"%zu records given, accepted are 1 to %d", "recibidos: %s registros; se aceptan de 1 a %s"},
    {"Changed since: the current version has the tag %s. Read it again, then decide.",
     "Cambió entretanto: la versión actual tiene la etiqueta %s. Léala otra vez y decida."},
    {"Not the one in the address; a record keeps its key. Remove it and add another.",
     "No es la de la dirección; un registro conserva su clave. Quítelo y añada otro."},
    {"Not removed: %s.", "No se quitó: %s."},
    {"Missing. Accepted is the ETag of the version that this change is about.",
     "Falta. Se acepta la ETag de la versión que se quiere cambiar."},
    {"The key of several records; a change is of one.",
     "Es la clave de varios registros; se cambia uno."},
    {"a sheet's number", "el número de una hoja"},
    {"There is no sheet of that number.", "No hay ninguna hoja con ese número."},
    {"Accepted is {} or {\"remarks\": \"...\"}.", "Se acepta {} o {\"remarks\": \"...\"}."},
    {"Accepted are up to %d bytes of text.", "Se aceptan hasta %s bytes de texto."},
    {"Accepted is text on one line, without control characters.",
     "Se acepta texto en una línea, sin caracteres de control."},
    {"This computer's clock is wrong: no sheet is issued. Set the clock.",
     "El reloj de este equipo está mal: no se emite ninguna hoja. Ponga el reloj en hora."},
    {"More than an hour ahead of this machine's clock: set the device's clock.",
     "Más de una hora por delante del reloj de este equipo: ponga en hora el aparato."},
    {"a moment that has been", "un momento que ya pasó"},
    {"No value at all is given.", "No se dio ningún valor."},
    {"at least one of the values", "al menos uno de los valores"},
    {"Accepted is a list of 1 to %d readings {at, period_min, ...}.",
     "Se acepta una lista de 1 a %s lecturas {at, period_min, ...}."},
    {"Too many wrong secrets from this address; one more is looked at in %d seconds.",
     "Demasiadas claves erróneas desde esta dirección; la próxima se mira en %s segundos."},
    {"Not a token in force. Accepted is 'Bearer TOKEN' with a token from 'perchd token add'.",
     "No es un token vigente. Se acepta 'Bearer TOKEN' con un token de 'perchd token add'."},
    {"Missing. With a cookie, only this server's own page may change anything.",
     "Falta. Con una cookie solo la página de este servidor puede cambiar algo."},
    {"Missing. Accepted is 'Bearer TOKEN', or signing in at /api/v1/session.",
     "Falta. Se acepta 'Bearer TOKEN', o identificarse en /api/v1/session."},
    {"A %s may not do this.", "Quien es '%s' no puede hacer esto."},
    {"Account and password do not go together.", "La cuenta y la contraseña no corresponden."},
    {"Accepted is {\"account\": NAME, \"password\": TEXT}.",
     "Se acepta {\"account\": NOMBRE, \"password\": TEXTO}."},
    {"This address sends one kind of answer only.",
     "Esta dirección envía una sola clase de respuesta."},
    {"Sent as gzip or identity.", "Se envía como gzip o identity."},
    {"The current version has another tag.", "La versión actual tiene otra etiqueta."},
    {"Too much is asked at once. Ask again soon.",
     "Se pide demasiado a la vez. Pregunte otra vez pronto."},
    {"The plan has no zone of that id.", "El plan no tiene ninguna zona con ese id."},
    {"This computer's clock is wrong, so nobody can say whether a valve should be open. Set the "
     "clock.",
     "El reloj de este equipo está mal: nadie puede decir si una válvula debe estar abierta. Ponga "
     "el reloj en hora."},
    {"This computer's clock and the weather service's disagree, and there is no plan from before. "
     "Set the clock.",
     "El reloj de este equipo y el del servicio del tiempo no concuerdan, y no hay plan anterior. "
     "Ponga el reloj en hora."},
    {"Not in this plan.", "No está en este plan."},
    {"It is saved, but no plan was made with it, and so no valve obeys it yet: open or close them "
     "by hand. The log says why. Sending the same again asks anew.",
     "Está guardado, pero no se hizo ningún plan con ello, así que ninguna válvula lo obedece aún: "
     "abra o cierre a mano. El registro del equipo dice por qué. Si envía lo mismo otra vez, se "
     "intenta de nuevo."},
    {"None has been issued yet.", "Aún no se ha emitido ninguna."},
    /* a query, a body, a request (query.c, document.c, request.c, route.c) */
    {"'%s' given twice, accepted is once", "recibido: '%s' dos veces; se acepta una"},
    {"'%s' has no value that can be read; accepted is %s=VALUE, UTF-8, percent-encoded, under %d "
     "bytes",
     "'%s' no tiene un valor legible; se acepta %s=VALOR, en UTF-8, codificado con %%, de menos de "
     "%s bytes"},
    {"Nothing given; accepted is a JSON document.",
     "No se recibió nada; se acepta un documento JSON."},
    {"Byte %zu is not UTF-8.", "El byte %s no es UTF-8."},
    {"Nested deeper than %d; no document accepted here is.",
     "Anidado a más de %s niveles; aquí no se acepta."},
    {"Not JSON: line %d, column %d: %s, near '%.*s'.",
     "No es JSON: línea %s, columna %s: %s, cerca de '%s'."},
    {"it ends too soon", "se acaba antes de tiempo"},
    {"something follows after its end", "sigue algo después del final"},
    {"something else belongs here", "aquí va otra cosa"},
    {"a name is given twice", "un nombre se da dos veces"},
    {"a number is too large", "un número es demasiado grande"},
    {"this cannot be read", "esto no se puede leer"},
    {"Not JSON: line %d, column %d: %s.", "No es JSON: línea %s, columna %s: %s."},
    {"The request's body is longer than what is read here.",
     "El cuerpo de la petición es más largo de lo que aquí se lee."},
    {"Holds an encoded NUL.", "Lleva un NUL codificado."},
    {"Not a name of this server.", "No es un nombre de este servidor."},
    {"Not a name of this server. It answers to localhost and to the address it listens on, each "
     "with its port, and to the host_names of its configuration.",
     "No es un nombre de este servidor. Responde a localhost y a la dirección en la que escucha, "
     "con su puerto, y a los 'host_names' de su configuración."},
    {"Given more than once.", "Dado más de una vez."},
    {"Only 'chunked' is understood, once.", "Solo se entiende 'chunked', una vez."},
    {"A field name holds characters that are not allowed.",
     "El nombre de un campo lleva caracteres que no se permiten."},
    {"A field has no value.", "Un campo no tiene valor."},
    {"Given together with Transfer-Encoding.", "Dado junto con Transfer-Encoding."},
    {"Missing, so that the request has no body; accepted is a JSON document.",
     "Falta, así que la petición no tiene cuerpo; se acepta un documento JSON."},
    {"Accepted is a body as it is, without a coding.",
     "Se acepta un cuerpo tal cual, sin codificar."},
    {"Accepted is application/json, and application/merge-patch+json with PATCH.",
     "Se acepta application/json, y con PATCH application/merge-patch+json."},
    {"Not for this address; the Allow field lists those that are.",
     "No vale para esta dirección; el campo Allow dice cuáles valen."},
    {"Another site's page may not change anything here.",
     "La página de otro sitio no puede cambiar nada aquí."},
    {"Nothing is here. There are /, /api/v1/plan, /plan.txt and /healthz.",
     "Aquí no hay nada. Hay /, /api/v1/plan, /plan.txt y /healthz."},
    {"This address takes no query.", "Esta dirección no admite consulta."},
    /* last, since they fit most: what was given, what is accepted */
    {"empty, accepted is %s", "vacío; se acepta %s"},
    {"%s given, accepted is %s", "recibido: %s; se acepta %s"},
    {"%s; write decimals with a point, not a comma",
     "%s; escriba los decimales con punto, no con coma"},
    {"%s above %.10g, at most %.10g", "%s mayor que %s, como mucho %s"},
    {"%s from %.10g to %.10g", "%s de %s a %s"},
};
const size_t spanish_count = sizeof spanish_rows / sizeof spanish_rows[0];

/* Part of a message that stands where the format has a conversion. */
struct caught {
    const char *start;
    size_t length;
};

/* Of a conversion's part at most so much: a number's characters, or all that is left. */
static size_t reach(char conversion, const char *text)
{
    return conversion == 's' ? strlen(text) : strspn(text, "0123456789.+-einfa");
}

/* Whether text can be what format made; the shortest parts that do. */
static bool match(const char *format, const char *text, struct caught *caught, size_t room)
{
    for (; *format && (*format != '%' || format[1] == '%'); format++, text++) {
        format += *format == '%';
        if (*format != *text)
            return false;
    }
    if (*format == '\0')
        return *text == '\0';
    const char *rest = format + strcspn(format, "sdgfu");
    size_t most = reach(*rest, text);
    for (size_t length = *rest == 's' ? 0 : 1; room > 0 && length <= most; length++)
        if (match(rest + 1, text + length, caught + 1, room - 1)) {
            *caught = (struct caught){text, length};
            return true;
        }
    return false;
}

/* All of it or nothing. */
static void add(char out[SPANISH_SIZE], const char *text, size_t length)
{
    size_t used = strlen(out);
    if (length >= SPANISH_SIZE - used)
        return;
    memcpy(out + used, text, length);
    out[used + length] = '\0';
}

/* What somebody gave is not to be taken for words of ours. */
static bool is_given(const struct caught *part, const char *message)
{
    return strchr("\"[{", part->start[0]) || (part->start > message && part->start[-1] == '\'');
}

static void add_part(char out[SPANISH_SIZE], const struct caught *part, const char *message)
{
    char piece[SPANISH_SIZE];
    char said[SPANISH_SIZE];
    if (part->length == 0 || part->length >= sizeof piece)
        return;
    memcpy(piece, part->start, part->length);
    piece[part->length] = '\0';
    bool ours = !is_given(part, message) && spanish_of(piece, said);
    add(out, ours ? said : piece, strlen(ours ? said : piece));
}

static void fill(const char *format, const struct caught *caught, const char *message,
                 char out[SPANISH_SIZE])
{
    out[0] = '\0';
    while (*format) {
        size_t length = strcspn(format, "%");
        add(out, format, length);
        format += length;
        if (*format == '\0')
            break;
        if (format[1] == '%')
            add(out, "%", 1);
        else
            add_part(out, caught++, message);
        format += 2;
    }
}

bool spanish_of(const char *english, char out[SPANISH_SIZE])
{
    struct caught caught[CAUGHT_MAX] = {{NULL, 0}};
    for (size_t i = 0; i < spanish_count; i++) {
        if (!match(spanish_rows[i].english, english, caught, CAUGHT_MAX))
            continue;
        fill(spanish_rows[i].spanish, caught, english, out);
        return true;
    }
    return false;
}
