/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "json_put.h"

#include <math.h>
#include <stdio.h>

json_t *json_put_number(double value, int places)
{
    double scale = pow(10.0, places);
    if (!isfinite(value))
        return json_null();
    double rounded = round(value * scale) / scale;
    return rounded == floor(rounded) && fabs(rounded) < 1e15 ? json_integer((json_int_t)rounded)
                                                             : json_real(rounded);
}

bool json_put_time(json_t *object, const char *name, int64_t t_s, const struct civil_zone *zone)
{
    char text[CIVIL_TEXT];
    char twin[64];
    snprintf(twin, sizeof twin, "%s_s", name);
    if (t_s <= 0)
        return json_object_set_new(object, name, json_null()) == 0 &&
               json_object_set_new(object, twin, json_null()) == 0;
    civil_format_rfc3339(t_s, civil_offset_at(zone, t_s), text);
    return json_object_set_new(object, name, json_string(text)) == 0 &&
           json_object_set_new(object, twin, json_integer(t_s)) == 0;
}
