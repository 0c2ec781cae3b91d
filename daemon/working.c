/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "working.h"

#include <stdbool.h>
#include <string.h>

/* What inputs and values are read from. */

enum part {
    PART_BLOCK,
    PART_MIX,
    PART_POT,
    PART_TODAY,
    PART_TOMORROW,
    PART_ZONE,
    PART_SIZING,
    PART_RUN,
    PART_COUNT
};

struct input {
    enum part part;
    const char *name; /* in the plan; NULL ends the list */
};

enum { INPUTS_MAX = 7 };

/* In each language. */
struct words {
    const char *in[FIELD_LANGUAGES];
};

struct step {
    enum part part;
    const char *name; /* of the value in the plan */
    struct words unit;
    struct words formula;
    struct input inputs[INPUTS_MAX];
    struct words source;
};

#define OF_VOLUME                                                                                  \
    {                                                                                              \
        {                                                                                          \
            "% of the volume", "% del volumen"                                                     \
        }                                                                                          \
    }
#define A_POT                                                                                      \
    {                                                                                              \
        {                                                                                          \
            "L a pot", "L por maceta"                                                              \
        }                                                                                          \
    }
#define PERCENT                                                                                    \
    {                                                                                              \
        {                                                                                          \
            "% of the usable water", "% del agua útil"                                            \
        }                                                                                          \
    }
#define NO_UNIT                                                                                    \
    {                                                                                              \
        {                                                                                          \
            "", ""                                                                                 \
        }                                                                                          \
    }
#define BENCH_TEST                                                                                 \
    {                                                                                              \
        {                                                                                          \
            "the bench test of the mix (model 1)", "el ensayo del sustrato (modelo 1)"             \
        }                                                                                          \
    }
#define CURVE_IN_POT                                                                               \
    {                                                                                              \
        {                                                                                          \
            "the curve in this pot (model 2)", "la curva en esta maceta (modelo 2)"                \
        }                                                                                          \
    }
#define USE_SOURCE                                                                                 \
    {                                                                                              \
        {                                                                                          \
            "FAO-56 with the canopy and the bed of this block (model 5)",                          \
                "FAO-56 con la copa y la cama de este bloque (modelo 5)"                           \
        }                                                                                          \
    }
#define BALANCE                                                                                    \
    {                                                                                              \
        {                                                                                          \
            "the water account (model 6)", "la cuenta del agua (modelo 6)"                         \
        }                                                                                          \
    }
#define ZONE_RECORD                                                                                \
    {                                                                                              \
        {                                                                                          \
            "the zone's record (model 7)", "la ficha de la zona (modelo 7)"                        \
        }                                                                                          \
    }

/* In the order in which one figure needs the other; the formulas are docs/model.md's. */
static const struct step steps[] = {
    {PART_MIX,
     "air_pct",
     OF_VOLUME,
     {{"what drained from the bench vessel / its volume, the mean of the vessels",
       "lo que escurrió del recipiente / su volumen, la media de los recipientes"}},
     {{PART_MIX, "replicates"}, {PART_MIX, "vessel_height_cm"}, {PART_MIX, "air_se_pct"}},
     BENCH_TEST},
    {PART_MIX,
     "total_porosity_pct",
     OF_VOLUME,
     {{"(saturated - dry mass) / vessel volume, or as given, or the usual one of the class",
       "(masa saturada - masa seca) / volumen del recipiente, o la indicada, o la usual de la "
       "clase"}},
     {{PART_MIX, "class"}, {PART_MIX, "doubts"}},
     BENCH_TEST},
    {PART_MIX,
     "capacity_pct",
     OF_VOLUME,
     {{"total porosity - air, in the vessel", "porosidad total - aire, en el recipiente"}},
     {{PART_MIX, "total_porosity_pct"}, {PART_MIX, "air_pct"}},
     BENCH_TEST},
    {PART_MIX,
     "alpha_per_cm",
     {{"per cm of height", "por cm de altura"}},
     {{"the one value for which θr + (θs - θr) (1 + (α h)^n)^(1/n - 1), taken over the vessel's "
       "height h, leaves the air that was measured; with more measurements the best fit",
       "el único valor con el que θr + (θs - θr) (1 + (α h)^n)^(1/n - 1), a lo largo de la altura "
       "h "
       "del recipiente, deja el aire que se midió; con más medidas, el mejor ajuste"}},
     {{PART_MIX, "theta_s"},
      {PART_MIX, "theta_r"},
      {PART_MIX, "n"},
      {PART_MIX, "vessel_height_cm"},
      {PART_MIX, "air_pct"},
      {PART_MIX, "path"}},
     {{"the bench test; θr and n of the class when one vessel was tested (model 1)",
       "el ensayo; θr y n de la clase cuando se ensayó un solo recipiente (modelo 1)"}}},
    {PART_BLOCK,
     "volume_l",
     A_POT,
     {{"fill height x (A1 + A2 + √(A1 A2)) / 3, A1 and A2 the areas at the fill line and the "
       "holes, or the measured volume",
       "altura de sustrato x (A1 + A2 + √(A1 A2)) / 3, con A1 y A2 las áreas en la línea de "
       "llenado "
       "y en los agujeros, o el volumen medido"}},
     {{PART_POT, "form"},
      {PART_POT, "top_cm"},
      {PART_POT, "bottom_cm"},
      {PART_POT, "fill_height_cm"},
      {PART_POT, "height_cm"},
      {PART_POT, "volume_l"}},
     {{"the pot's record (model 2)", "la ficha de la maceta (modelo 2)"}}},
    {PART_BLOCK,
     "capacity_l",
     A_POT,
     {{"the curve over the pot's height above its holes, weighted by its width there, x volume",
       "la curva a lo largo de la altura de la maceta sobre sus agujeros, según su ancho en cada "
       "altura, x volumen"}},
     {{PART_BLOCK, "volume_l"},
      {PART_MIX, "theta_s"},
      {PART_MIX, "theta_r"},
      {PART_MIX, "alpha_per_cm"},
      {PART_MIX, "n"},
      {PART_POT, "fill_height_cm"}},
     CURVE_IN_POT},
    {PART_BLOCK,
     "air_at_capacity_pct",
     OF_VOLUME,
     {{"θs - water at container capacity / volume",
       "θs - agua a capacidad de contenedor / volumen"}},
     {{PART_MIX, "theta_s"},
      {PART_BLOCK, "capacity_l"},
      {PART_BLOCK, "volume_l"},
      {PART_BLOCK, "air_at_capacity_sd_pct"}},
     CURVE_IN_POT},
    {PART_BLOCK,
     "full_l",
     A_POT,
     {{"what daily watering refills: 0.92 of container capacity, 0.88 from below, less what roots "
       "took",
       "lo que repone el riego diario: 0,92 de la capacidad de contenedor, 0,88 desde abajo, menos "
       "lo que ocuparon las raíces"}},
     {{PART_BLOCK, "capacity_l"}, {PART_BLOCK, "air_lost_pct"}},
     {{"our choice, 0.85 to 0.95 by method (model 2, 6)",
       "elección nuestra, de 0,85 a 0,95 según el método (modelo 2, 6)"}}},
    {PART_BLOCK,
     "available_l",
     A_POT,
     {{"full - volume x the part of it with water that plants cannot draw",
       "llena - volumen x la parte con agua que la planta no puede tomar"}},
     {{PART_BLOCK, "full_l"}, {PART_BLOCK, "volume_l"}, {PART_MIX, "class"}},
     {{"the curve at 100 cm, 0.20 in bark, or the block's own limit (model 2, 6)",
       "la curva a 100 cm, 0,20 en corteza, o el límite propio del bloque (modelo 2, 6)"}}},
    {PART_TODAY,
     "et0_mm",
     {{"mm", "mm"}},
     {{"Penman-Monteith, summed over the hours of today",
       "Penman-Monteith, sumada sobre las horas de hoy"}},
     {{PART_TODAY, "temperature_max_c"},
      {PART_TODAY, "temperature_min_c"},
      {PART_TODAY, "weather_kind"}},
     {{"FAO-56 eq 53 with the constants of ASCE 2005 (model 3, 4)",
       "FAO-56 ec. 53 con las constantes de ASCE 2005 (modelo 3, 4)"}}},
    {PART_BLOCK,
     "use_today_l",
     A_POT,
     {{"own correction x (reference ET x ground a pot has x what the plant draws, less when dry "
       "+ reference ET x pot top x its dampness x (0.9 in the sun, 0.6 under leaves)), hour by "
       "hour",
       "corrección propia x (ET de referencia x suelo por maceta x lo que toma la planta, menos en "
       "seco + ET de referencia x boca de la maceta x su humedad x (0,9 al sol, 0,6 bajo hojas)), "
       "hora por hora"}},
     {{PART_TODAY, "et0_mm"}, {PART_BLOCK, "ground_m2"}, {PART_BLOCK, "canopy_cm"}},
     USE_SOURCE},
    {PART_BLOCK,
     "use_tomorrow_l",
     A_POT,
     {{"the same with tomorrow's weather", "lo mismo con el tiempo de mañana"}},
     {{PART_TOMORROW, "et0_mm"}, {PART_TOMORROW, "weather_kind"}},
     USE_SOURCE},
    {PART_BLOCK,
     "water_l",
     A_POT,
     {{"what was known + rain in + water kept - use, hour by hour since then, never above full",
       "lo que se sabía + lluvia que entró + riego retenido - consumo, hora por hora desde "
       "entonces, "
       "nunca más que llena"}},
     {{PART_BLOCK, "known_since"}, {PART_BLOCK, "known_how"}, {PART_BLOCK, "full_l"}},
     {{"weighings, runs, rain, touch checks (model 6)",
       "pesajes, riegos, lluvia, pruebas al tacto (modelo 6)"}}},
    {PART_BLOCK,
     "depletion_l",
     A_POT,
     {{"full - water now", "llena - agua ahora"}},
     {{PART_BLOCK, "full_l"}, {PART_BLOCK, "water_l"}},
     BALANCE},
    {PART_BLOCK,
     "depletion_pct",
     PERCENT,
     {{"water gone / usable water", "agua gastada / agua útil"}},
     {{PART_BLOCK, "depletion_l"}, {PART_BLOCK, "available_l"}},
     BALANCE},
    {PART_BLOCK,
     "driest_pct",
     PERCENT,
     {{"the same of the bed's driest quarter, which gets the average dose x the uniformity",
       "lo mismo en la cuarta parte más seca de la cama, que recibe la dosis media x la "
       "uniformidad"}},
     {{PART_BLOCK, "depletion_pct"}},
     BALANCE},
    {PART_BLOCK,
     "next_at",
     NO_UNIT,
     {{"the hour in which the driest quarter passes the refill point if nobody waters and no rain "
       "falls",
       "la hora en que la cuarta parte más seca pasa el punto de riego si nadie riega y no "
       "llueve"}},
     {{PART_BLOCK, "driest_pct"},
      {PART_BLOCK, "refill_pct"},
      {PART_BLOCK, "use_today_l"},
      {PART_BLOCK, "use_tomorrow_l"},
      {PART_BLOCK, "next_from"},
      {PART_BLOCK, "next_to"}},
     {{"refill at 25, 35 or 45 % by stage, or the block's own (model 8)",
       "punto de riego al 25, 35 o 45 % según la fase, o el propio del bloque (modelo 8)"}}},
    {PART_SIZING,
     "lacks_l",
     A_POT,
     {{"full - water, in a pot of the block that leads, when its zone is looked at. Of the blocks "
       "that cannot wait for the next hours of watering that is the one which needs the longest "
       "run, since a shorter one would leave it dry; a block that an order or the zone's record "
       "names comes before",
       "llena - agua, en una maceta del bloque que manda, cuando se mira su zona. De los bloques "
       "que no pueden esperar a las siguientes horas de riego es el que necesita el riego más "
       "largo, pues uno más corto lo dejaría seco; antes va el bloque que nombre una orden o la "
       "ficha de la zona"}},
     {{PART_SIZING, "block"},
      {PART_SIZING, "led_by"},
      {PART_RUN, "start"},
      {PART_SIZING, "side"},
      {PART_SIZING, "full_l"},
      {PART_SIZING, "water_l"}},
     {{"the plan (model 8)", "el plan (modelo 8)"}}},
    {PART_SIZING,
     "margin",
     {{"times", "veces"}},
     {{"the larger of 1 / (1 - part that is to drain) and the times for an uneven bed; to even the "
       "bed: times for what runs through / share that reaches the dry quarter",
       "lo mayor entre 1 / (1 - parte que debe escurrir) y las veces por una cama despareja; para "
       "emparejar la cama: veces por lo que pasa de largo / parte que llega a la cuarta seca"}},
     {{PART_SIZING, "leaching_pct"},
      {PART_SIZING, "uniformity_times"},
      {PART_SIZING, "soak_times"},
      {PART_SIZING, "dry_share_pct"}},
     {{"the zone's record or the usual of its method (model 7)",
       "la ficha de la zona o lo usual de su método (modelo 7)"}}},
    {PART_SIZING,
     "capture",
     {{"times", "veces"}},
     {{"what a pot with its plant catches / what its top alone would, as measured, or 1 + 0.4 "
       "(canopy's area, at most the ground / top - 1), at least 1, at most ground / top: what "
       "falls between the pots is lost",
       "lo que recoge la maceta con su planta / lo que recogería la boca sola, según se midió, o "
       "1 + 0,4 (área de la copa, como mucho el suelo / boca - 1), al menos 1, como mucho suelo / "
       "boca: lo que cae entre macetas se pierde"}},
     {{PART_SIZING, "canopy_cm"}, {PART_SIZING, "ground_m2"}, {PART_SIZING, "top_m2"}},
     {{"the block's record, or our choice (model 7)",
       "la ficha del bloque, o elección nuestra (modelo 7)"}}},
    {PART_SIZING,
     "pot_l_min",
     {{"L a minute", "L por minuto"}},
     {{"overhead: depth an hour / 60 x pot's top x catch, 1 mm on 1 m² being 1 L; emitters: "
       "emitters x L/h / 60",
       "aspersión: lámina por hora / 60 x boca de la maceta x captación, 1 mm en 1 m² es 1 L; "
       "emisores: emisores x L/h / 60"}},
     {{PART_ZONE, "rate_mm_h"},
      {PART_SIZING, "top_m2"},
      {PART_SIZING, "capture"},
      {PART_ZONE, "emitters_per_pot"},
      {PART_ZONE, "emitter_l_h"}},
     ZONE_RECORD},
    {PART_SIZING,
     "need_minutes",
     {{"min", "min"}},
     {{"what a pot lacks x margin / what it gets a minute; trays and the hose: what all pots get, "
       "each its own lack with the margin / flow; ordered minutes or litres as ordered",
       "lo que falta en una maceta x margen / lo que recibe por minuto; bandejas y manguera: lo "
       "de todas las macetas, cada una lo suyo con el margen / caudal; los minutos o litros de una "
       "orden, como se ordenaron"}},
     {{PART_SIZING, "lacks_l"},
      {PART_SIZING, "margin"},
      {PART_SIZING, "pot_l_min"},
      {PART_SIZING, "all_l"},
      {PART_SIZING, "flow_l_min"},
      {PART_SIZING, "led_by"}},
     {{"the plan (model 8)", "el plan (modelo 8)"}}},
    {PART_RUN,
     "minutes",
     {{"min", "min"}},
     {{"minutes needed, up to the whole minute; at least the shortest run, at most what the day's "
       "limits leave; in equal pulses of whole minutes",
       "minutos necesarios, hasta el minuto entero; al menos el riego más corto, como mucho lo que "
       "dejan los límites del día; en pulsos iguales de minutos enteros"}},
     {{PART_SIZING, "need_minutes"},
      {PART_SIZING, "least_minutes"},
      {PART_SIZING, "most_minutes"},
      {PART_RUN, "pulses"}},
     {{"the zone's record, the plan (model 7, 8)", "la ficha de la zona, el plan (modelo 7, 8)"}}},
    {PART_RUN,
     "depth_mm",
     {{"mm", "mm"}},
     {{"minutes x depth an hour / 60", "minutos x lámina por hora / 60"}},
     {{PART_RUN, "minutes"}, {PART_ZONE, "rate_mm_h"}},
     ZONE_RECORD},
    {PART_RUN,
     "litres",
     {{"L", "L"}},
     {{"minutes x flow", "minutos x caudal"}},
     {{PART_RUN, "minutes"}, {PART_RUN, "flow_l_min"}},
     ZONE_RECORD},
};

/* What the figures are called. */
static const struct {
    enum part part;
    const char *name;
    struct words label;
} labels[] = {
    {PART_MIX, "air_pct", {{"air in the bench vessel", "aire en el recipiente del ensayo"}}},
    {PART_MIX, "replicates", {{"vessels", "recipientes"}}},
    {PART_MIX, "vessel_height_cm", {{"vessel height, cm", "altura del recipiente, cm"}}},
    {PART_MIX, "air_se_pct", {{"standard error, points", "error estándar, puntos"}}},
    {PART_MIX, "total_porosity_pct", {{"total porosity", "porosidad total"}}},
    {PART_MIX, "class", {{"made of", "hecho de"}}},
    {PART_MIX, "doubts", {{"doubts", "dudas"}}},
    {PART_MIX,
     "capacity_pct",
     {{"container capacity in the bench vessel", "capacidad de contenedor en el recipiente"}}},
    {PART_MIX,
     "alpha_per_cm",
     {{"how soon the pores empty with height (α)", "cuán pronto se vacían los poros con la altura "
                                                   "(α)"}}},
    {PART_MIX,
     "theta_s",
     {{"water with all pores full (θs)", "agua con todos los poros llenos (θs)"}}},
    {PART_MIX, "theta_r", {{"water that never drains (θr)", "agua que nunca escurre (θr)"}}},
    {PART_MIX, "n", {{"how alike the pores are (n)", "cuán parejos son los poros (n)"}}},
    {PART_MIX, "path", {{"found from", "hallado con"}}},
    {PART_POT, "form", {{"form", "forma"}}},
    {PART_POT, "top_cm", {{"width at the top, cm", "ancho arriba, cm"}}},
    {PART_POT, "bottom_cm", {{"width at the holes, cm", "ancho en los agujeros, cm"}}},
    {PART_POT, "fill_height_cm", {{"height of mix, cm", "altura de sustrato, cm"}}},
    {PART_POT, "height_cm", {{"height of the rim, cm", "altura del borde, cm"}}},
    {PART_POT, "volume_l", {{"measured volume, L", "volumen medido, L"}}},
    {PART_BLOCK, "volume_l", {{"mix in the pot", "sustrato en la maceta"}}},
    {PART_BLOCK, "capacity_l", {{"water at container capacity", "agua a capacidad de contenedor"}}},
    {PART_BLOCK,
     "air_at_capacity_pct",
     {{"air in the pot after draining", "espacio de aire en la maceta tras escurrir"}}},
    {PART_BLOCK, "air_at_capacity_sd_pct", {{"give or take, points", "más o menos, puntos"}}},
    {PART_BLOCK, "full_l", {{"water in a full pot", "agua en la maceta llena"}}},
    {PART_BLOCK,
     "air_lost_pct",
     {{"air that roots took, points", "aire que ocuparon las raíces, "
                                      "puntos"}}},
    {PART_BLOCK, "available_l", {{"usable water", "agua útil (disponible)"}}},
    {PART_BLOCK, "use_today_l", {{"use today", "consumo de hoy"}}},
    {PART_BLOCK, "use_tomorrow_l", {{"use tomorrow", "consumo de mañana"}}},
    {PART_BLOCK, "canopy_cm", {{"width of the canopy, cm", "ancho de copa, cm"}}},
    {PART_BLOCK, "water_l", {{"water now", "agua ahora"}}},
    {PART_BLOCK, "known_since", {{"known since", "se sabe desde"}}},
    {PART_BLOCK, "known_how", {{"known from", "se sabe por"}}},
    {PART_BLOCK, "depletion_l", {{"water gone", "agua gastada"}}},
    {PART_BLOCK, "depletion_pct", {{"usable water gone", "agua útil gastada"}}},
    {PART_BLOCK,
     "driest_pct",
     {{"usable water gone in the driest quarter", "agua útil gastada en la cuarta parte más "
                                                  "seca"}}},
    {PART_BLOCK, "next_at", {{"water due", "toca regar"}}},
    {PART_BLOCK,
     "refill_pct",
     {{"refill point, usable water gone, %", "punto de riego, agua útil gastada, %"}}},
    {PART_BLOCK, "next_from", {{"at the earliest", "lo más pronto"}}},
    {PART_BLOCK, "next_to", {{"at the latest", "lo más tarde"}}},
    {PART_TODAY, "et0_mm", {{"reference ET today", "ET de referencia de hoy"}}},
    {PART_TODAY, "temperature_max_c", {{"warmest, °C", "máxima, °C"}}},
    {PART_TODAY, "temperature_min_c", {{"coldest, °C", "mínima, °C"}}},
    {PART_TODAY, "weather_kind", {{"weather", "tiempo"}}},
    {PART_TOMORROW, "et0_mm", {{"reference ET tomorrow", "ET de referencia de mañana"}}},
    {PART_TOMORROW, "weather_kind", {{"weather", "tiempo"}}},
    {PART_BLOCK, "ground_m2", {{"ground a pot has, m²", "suelo por maceta, m²"}}},
    {PART_ZONE, "rate_mm_h", {{"depth an hour, mm", "lámina por hora, mm"}}},
    {PART_ZONE, "emitters_per_pot", {{"emitters a pot", "emisores por maceta"}}},
    {PART_ZONE, "emitter_l_h", {{"flow of an emitter, L/h", "caudal de un emisor, L/h"}}},
    {PART_SIZING, "lacks_l", {{"what a pot lacks", "lo que falta en una maceta"}}},
    {PART_SIZING, "block", {{"block that leads", "bloque que manda"}}},
    {PART_SIZING, "led_by", {{"why", "por qué"}}},
    {PART_SIZING, "side", {{"pot", "maceta"}}},
    {PART_SIZING, "full_l", {{"full, L", "llena, L"}}},
    {PART_SIZING, "water_l", {{"water then, L", "agua entonces, L"}}},
    {PART_SIZING, "margin", {{"margin", "margen"}}},
    {PART_SIZING, "leaching_pct", {{"part that is to drain, %", "parte que debe escurrir, %"}}},
    {PART_SIZING,
     "uniformity_times",
     {{"times for an uneven bed", "veces por una cama despareja"}}},
    {PART_SIZING,
     "soak_times",
     {{"times for what runs through", "veces por lo que pasa de largo"}}},
    {PART_SIZING,
     "dry_share_pct",
     {{"share that reaches the dry quarter, %", "parte que llega a la cuarta seca, %"}}},
    {PART_SIZING, "capture", {{"catch of a pot", "captación de una maceta"}}},
    {PART_SIZING, "canopy_cm", {{"width of the canopy, cm", "ancho de copa, cm"}}},
    {PART_SIZING, "ground_m2", {{"ground a pot has, m²", "suelo por maceta, m²"}}},
    {PART_SIZING, "top_m2", {{"pot's top, m²", "boca de la maceta, m²"}}},
    {PART_SIZING,
     "pot_l_min",
     {{"what a pot gets a minute", "lo que recibe una maceta por minuto"}}},
    {PART_SIZING, "all_l", {{"all pots, L", "todas las macetas, L"}}},
    {PART_SIZING, "flow_l_min", {{"flow, L/min", "caudal, L/min"}}},
    {PART_SIZING, "need_minutes", {{"minutes needed", "minutos necesarios"}}},
    {PART_SIZING, "least_minutes", {{"shortest run, min", "riego más corto, min"}}},
    {PART_SIZING, "most_minutes", {{"limits leave, min", "los límites dejan, min"}}},
    {PART_RUN, "start", {{"next run", "próximo riego"}}},
    {PART_RUN, "minutes", {{"water on", "agua abierta"}}},
    {PART_RUN, "depth_mm", {{"depth on the bed", "lámina en la cama"}}},
    {PART_RUN, "pulses", {{"pulses", "pulsos"}}},
    {PART_RUN, "litres", {{"through the valve", "por la válvula"}}},
    {PART_RUN, "flow_l_min", {{"flow, L/min", "caudal, L/min"}}},
};

/* What inputs hold that are codes. */
static const struct {
    const char *code;
    struct words says;
} codes[] = {
    {"peat", {{"peat", "turba"}}},
    {"peat-perlite", {{"peat and perlite", "turba y perlita"}}},
    {"coir", {{"coir", "fibra de coco"}}},
    {"wood-fibre", {{"wood fibre", "fibra de madera"}}},
    {"bark-peat-sand", {{"bark, peat, sand", "corteza, turba, arena"}}},
    {"bark-aged", {{"aged bark", "corteza compostada"}}},
    {"bark-fresh", {{"fresh bark", "corteza fresca"}}},
    {"generic", {{"something else", "otro"}}},
    {"one_replicate", {{"one vessel only", "un solo recipiente"}}},
    {"porosity_assumed", {{"porosity assumed", "porosidad supuesta"}}},
    {"residual_lowered", {{"drained more than its class does", "escurrió más que su clase"}}},
    {"replicates_differ", {{"vessels differ", "los recipientes difieren"}}},
    {"settled", {{"settled", "se asentó"}}},
    {"porosity_high", {{"porosity high", "porosidad alta"}}},
    {"outlier", {{"one vessel apart", "un recipiente se aparta"}}},
    {"drained_short", {{"drained too short", "escurrió poco tiempo"}}},
    {"air_trapped", {{"air was trapped", "quedó aire atrapado"}}},
    {"masses_disagree", {{"masses disagree", "las masas no concuerdan"}}},
    {"widths_disagree", {{"widths disagree", "los anchos no concuerdan"}}},
    {"one_vessel", {{"one vessel", "un recipiente"}}},
    {"several", {{"several measurements", "varias medidas"}}},
    {"one_point", {{"one point", "un punto"}}},
    {"table", {{"a table", "una tabla"}}},
    {"round", {{"round", "redonda"}}},
    {"square", {{"square", "cuadrada"}}},
    {"measured", {{"measured", "medido"}}},
    {"analysis", {{"analysis", "análisis"}}},
    {"forecast", {{"forecast", "pronóstico"}}},
    {"normal", {{"usual of the month", "usual del mes"}}},
    {"weighed", {{"a weighing", "un pesaje"}}},
    {"filled", {{"a watering that filled it", "un riego que la llenó"}}},
    {"potted", {{"potting", "el enmacetado"}}},
    {"touched", {{"a touch check", "una prueba al tacto"}}},
    {"assumed", {{"an assumption", "una suposición"}}},
    {"neediest", {{"it needs the longest run", "necesita el riego más largo"}}},
    {"named", {{"the zone's record names it", "la ficha de la zona lo nombra"}}},
    {"wet", {{"in cool weather wet harms it first", "con tiempo fresco el exceso lo daña antes"}}},
    {"order", {{"ordered", "por orden"}}},
    {"each", {{"every pot gets its own", "cada maceta recibe lo suyo"}}},
    {"asked", {{"minutes or litres as ordered", "minutos o litros según la orden"}}},
    {"required", {{"a required watering", "un riego obligado"}}},
    {"average", {{"the average one", "la media"}}},
    {"dry_quarter", {{"of the dry quarter", "de la cuarta parte seca"}}},
};

static const json_t *named(const json_t *array, const char *id, const char *batch)
{
    for (size_t i = 0; i < json_array_size(array); i++) {
        const json_t *item = json_array_get(array, i);
        const char *own = json_string_value(json_object_get(item, "id"));
        const char *own_batch = json_string_value(json_object_get(item, "batch"));
        if (own && id && strcmp(own, id) == 0 &&
            (!batch || (own_batch && strcmp(own_batch, batch) == 0)))
            return item;
    }
    return NULL;
}

static const char *text_of(const json_t *object, const char *name)
{
    return json_string_value(json_object_get(object, name));
}

static bool find_parts(const json_t *plan, const char *block, const json_t *parts[PART_COUNT])
{
    const json_t *days = json_object_get(plan, "days");
    parts[PART_BLOCK] = named(json_object_get(plan, "blocks"), block, NULL);
    if (!parts[PART_BLOCK])
        return false;
    parts[PART_POT] = named(json_object_get(plan, "pots"), text_of(parts[PART_BLOCK], "pot"), NULL);
    /* A batch tested again comes several times: the block's own test. */
    const json_t *mixes = json_object_get(plan, "mixes");
    const char *tested = text_of(parts[PART_BLOCK], "mix_tested");
    for (size_t i = 0; i < json_array_size(mixes); i++) {
        const json_t *mix = json_array_get(mixes, i);
        const char *own = text_of(mix, "tested");
        if (!parts[PART_MIX] || (own && tested && strcmp(own, tested) == 0))
            parts[PART_MIX] = mix;
    }
    parts[PART_TODAY] = json_array_get(days, 0);
    parts[PART_TOMORROW] = json_array_get(days, 1);
    parts[PART_ZONE] = json_array_get(json_object_get(plan, "zones"), 0);
    parts[PART_SIZING] = json_object_get(parts[PART_ZONE], "sizing");
    /* The run that was sized; of one underway only what it gives is known. */
    const char *sized = text_of(parts[PART_SIZING], "run");
    for (size_t d = 0; d < json_array_size(days) && !parts[PART_RUN]; d++) {
        const json_t *runs = json_object_get(json_array_get(days, d), "runs");
        parts[PART_RUN] = sized ? named(runs, sized, NULL) : json_array_get(runs, 0);
    }
    return true;
}

static const char *label_of(enum part part, const char *name, enum field_language language)
{
    for (size_t i = 0; i < sizeof labels / sizeof labels[0]; i++)
        if (labels[i].part == part && strcmp(labels[i].name, name) == 0)
            return labels[i].label.in[language];
    return name;
}

/* The words of the codes in value, one or an array of them, into says. */
static void say_codes(const json_t *value, json_t *says, enum field_language language)
{
    for (size_t i = 0; i < json_array_size(value); i++)
        say_codes(json_array_get(value, i), says, language);
    const char *code = json_string_value(value);
    for (size_t i = 0; code && i < sizeof codes / sizeof codes[0]; i++)
        if (strcmp(codes[i].code, code) == 0)
            json_object_set_new(says, code, json_string(codes[i].says.in[language]));
}

static json_t *step_json(const struct step *step, const json_t *const parts[PART_COUNT],
                         json_t *says, enum field_language language)
{
    json_t *inputs = json_object();
    json_t *named_inputs = json_object();
    for (size_t i = 0; i < INPUTS_MAX && step->inputs[i].name; i++) {
        const struct input *input = &step->inputs[i];
        json_t *value = json_object_get(parts[input->part], input->name);
        json_object_set(inputs, input->name, value);
        if (value && !json_is_null(value)) /* what takes no part is not named */
            json_object_set_new(named_inputs, input->name,
                                json_string(label_of(input->part, input->name, language)));
        say_codes(value, says, language);
    }
    return json_pack("{s:s, s:s, s:O, s:s, s:s, s:o, s:o, s:s}", "quantity", step->name, "label",
                     label_of(step->part, step->name, language), "value",
                     json_object_get(parts[step->part], step->name), "unit",
                     step->unit.in[language], "formula", step->formula.in[language], "inputs",
                     inputs, "labels", named_inputs, "source", step->source.in[language]);
}

/* Without a run in the plan its steps are left out, and of a run what its method does not have. */
static bool takes_part(const struct step *step, const json_t *const parts[PART_COUNT])
{
    const json_t *value = json_object_get(parts[step->part], step->name);
    return value && !(json_is_null(value) && step->part >= PART_ZONE);
}

json_t *working_of(const json_t *plan, const char *block, enum field_language language)
{
    const json_t *parts[PART_COUNT] = {NULL};
    if (!find_parts(plan, block, parts))
        return NULL;
    json_t *list = json_array();
    json_t *says = json_object();
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++)
        if (takes_part(&steps[i], parts) &&
            json_array_append_new(list, step_json(&steps[i], parts, says, language)) != 0) {
            json_decref(list);
            json_decref(says);
            return NULL;
        }
    return json_pack("{s:s, s:O, s:O, s:o, s:o}", "block", block, "made_at",
                     json_object_get(plan, "made_at"), "made_at_s",
                     json_object_get(plan, "made_at_s"), "steps", list, "words", says);
}
