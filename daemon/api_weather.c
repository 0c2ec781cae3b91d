/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "api_internal.h"

int api_readings(struct api_call *call)
{
    return api_refuse(call, PROBLEM_NOT_FOUND, "path", "Nothing is here.");
}
