/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "problem.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

#include "spanish.h"

static const struct {
    enum problem_status status;
    const char *title[FIELD_LANGUAGES];
} titles[] = {
    {PROBLEM_BAD_REQUEST, {"Bad Request", "Petición incorrecta"}},
    {PROBLEM_UNAUTHORIZED, {"Unauthorized", "Sin identificar"}},
    {PROBLEM_FORBIDDEN, {"Forbidden", "No permitido"}},
    {PROBLEM_NOT_FOUND, {"Not Found", "No está"}},
    {PROBLEM_METHOD_NOT_ALLOWED, {"Method Not Allowed", "Método no permitido"}},
    {PROBLEM_NOT_ACCEPTABLE, {"Not Acceptable", "No se envía así"}},
    {PROBLEM_CONFLICT, {"Conflict", "No cabe con lo que hay"}},
    {PROBLEM_LENGTH_REQUIRED, {"Length Required", "Falta la longitud"}},
    {PROBLEM_PRECONDITION_FAILED, {"Precondition Failed", "Cambió entretanto"}},
    {PROBLEM_CONTENT_TOO_LARGE, {"Content Too Large", "Contenido demasiado grande"}},
    {PROBLEM_UNSUPPORTED_MEDIA_TYPE, {"Unsupported Media Type", "Tipo de contenido no admitido"}},
    {PROBLEM_MISDIRECTED_REQUEST, {"Misdirected Request", "Petición mal dirigida"}},
    {PROBLEM_UNPROCESSABLE, {"Unprocessable Content", "Contenido no aceptable"}},
    {PROBLEM_PRECONDITION_REQUIRED, {"Precondition Required", "Falta una condición"}},
    {PROBLEM_TOO_MANY_REQUESTS, {"Too Many Requests", "Demasiadas peticiones"}},
    {PROBLEM_INTERNAL, {"Internal Server Error", "Error del servidor"}},
    {PROBLEM_NOT_IMPLEMENTED, {"Not Implemented", "No existe"}},
    {PROBLEM_SERVICE_UNAVAILABLE, {"Service Unavailable", "No disponible ahora"}},
};

static const char *title_of(enum problem_status status, enum field_language language)
{
    for (size_t i = 0; i < sizeof titles / sizeof titles[0]; i++)
        if (titles[i].status == status)
            return titles[i].title[language];
    return "Error";
}

static void put(json_t *document, const char *name, const char *text)
{
    if (text && text[0])
        json_object_set_new(document, name, json_string(text));
}

static void put_bound(json_t *document, const char *name, const double *bound)
{
    if (bound && isfinite(*bound))
        json_object_set_new(document, name,
                            *bound == floor(*bound) ? json_integer((json_int_t)*bound)
                                                    : json_real(*bound));
}

char *problem_text(const struct problem *problem, enum field_language *language)
{
    const char *detail = problem->detail;
    const char *accepted = problem->accepted;
    const char *given = problem->given;
    char said[3][SPANISH_SIZE];
    if (*language == FIELD_SPANISH && detail && spanish_of(detail, said[0])) {
        if (said[0][0] >= 'a' && said[0][0] <= 'z')
            said[0][0] = (char)(said[0][0] - 'a' + 'A'); /* it stands as a sentence of its own */
        detail = said[0];
        if (accepted && spanish_of(accepted, said[1]))
            accepted = said[1];
        /* what somebody sent stays as it came */
        if (given && !strchr("\"[{", given[0]) && spanish_of(given, said[2]))
            given = said[2];
    } else {
        *language = FIELD_ENGLISH;
    }
    json_t *document = json_pack("{s:s, s:i}", "title", title_of(problem->status, *language),
                                 "status", (int)problem->status); /* in this order */
    if (!document)
        return NULL;
    put(document, "field", problem->field);
    put(document, "given", given);
    put(document, "accepted", accepted);
    put_bound(document, "accepted_min", problem->least);
    put_bound(document, "accepted_max", problem->most);
    put(document, "detail", detail);
    put(document, "instance", problem->instance);
    char *text = json_dumps(document, JSON_INDENT(2) | JSON_REAL_PRECISION(15));
    json_decref(document);
    return text;
}
