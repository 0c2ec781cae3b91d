/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Documents of the US service, small ones: a point's, and its grid cell's, issued at 05:40 on 4 May
 * 2031 (all values invented; structure as the service's OpenAPI description has it).
 */
#ifndef PERCHD_TESTS_NWS_DOCUMENT_H
#define PERCHD_TESTS_NWS_DOCUMENT_H

#define NWS_POINT                                                                                  \
    "{\"id\":\"x\",\"type\":\"Feature\",\"geometry\":{\"type\":\"Point\","                         \
    "\"coordinates\":[-84.1,33.9]},\"properties\":{\"gridId\":\"ZZZ\",\"gridX\":12,"               \
    "\"gridY\":34,\"type\":\"land\","                                                              \
    "\"forecastGridData\":\"https://weather.example/gridpoints/ZZZ/12,34\","                       \
    "\"observationStations\":\"https://weather.example/gridpoints/ZZZ/12,"                         \
    "34/stations\",\"timeZone\":\"America/New_York\"}}"

#define NWS_GRID                                                                                   \
    "{\"type\":\"Feature\",\"geometry\":{\"type\":\"Polygon\","                                    \
    "\"coordinates\":[[[-84.11,33.89],[-84.11,33.91],[-84.09,33.91],[-84.09,33.89],"               \
    "[-84.11,33.89]]]},\"properties\":{\"updateTime\":\"2031-05-04T05:40:00+00:00\","              \
    "\"validTimes\":\"2031-05-03T23:00:00+00:00/P7DT14H\","                                        \
    "\"elevation\":{\"unitCode\":\"wmoUnit:m\",\"value\":287.4},\"gridId\":\"ZZZ\","               \
    "\"gridX\":12,\"gridY\":34,\"temperature\":{\"uom\":\"wmoUnit:degC\","                         \
    "\"values\":[{\"validTime\":\"2031-05-04T05:00:00+00:00/PT2H\","                               \
    "\"value\":14.4444},{\"validTime\":\"2031-05-04T07:00:00+00:00/PT1H\","                        \
    "\"value\":15.5556}]},\"dewpoint\":{\"uom\":\"wmoUnit:degC\","                                 \
    "\"values\":[{\"validTime\":\"2031-05-04T05:00:00+00:00/PT3H\",\"value\":11.1}]},"             \
    "\"relativeHumidity\":{\"uom\":\"wmoUnit:percent\","                                           \
    "\"values\":[{\"validTime\":\"2031-05-04T05:00:00+00:00/PT3H\",\"value\":81}]},"               \
    "\"skyCover\":{\"uom\":\"wmoUnit:percent\","                                                   \
    "\"values\":[{\"validTime\":\"2031-05-04T05:00:00+00:00/PT3H\",\"value\":35}]},"               \
    "\"windSpeed\":{\"uom\":\"wmoUnit:km_h-1\","                                                   \
    "\"values\":[{\"validTime\":\"2031-05-04T05:00:00+00:00/P1DT6H\","                             \
    "\"value\":9.26}]},\"probabilityOfPrecipitation\":{\"uom\":\"wmoUnit:percent\","               \
    "\"values\":[{\"validTime\":\"2031-05-04T05:00:00+00:00/PT12H\",\"value\":20}]},"              \
    "\"quantitativePrecipitation\":{\"uom\":\"wmoUnit:mm\","                                       \
    "\"values\":[{\"validTime\":\"2031-05-04T05:00:00+00:00/PT1H\",\"value\":0.5},"                \
    "{\"validTime\":\"2031-05-04T06:00:00+00:00/PT6H\",\"value\":3.0},"                            \
    "{\"validTime\":\"2031-05-04T12:00:00+00:00/PT6H\",\"value\":3.0}]},"                          \
    "\"pressure\":{\"values\":[]}}}"

#endif
