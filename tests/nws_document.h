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

/* Stations around, and one's reports of 03:53, 04:53 and 05:53 with an interim one between, newest
 * first. */
#define NWS_STATIONS                                                                               \
    "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\","                         \
    "\"geometry\":{\"type\":\"Point\",\"coordinates\":[-84.4,33.7]},"                              \
    "\"properties\":{\"elevation\":{\"unitCode\":\"wmoUnit:m\",\"value\":300},"                    \
    "\"stationIdentifier\":\"KFAR\"}},{\"type\":\"Feature\","                                      \
    "\"geometry\":{\"type\":\"Point\",\"coordinates\":[-84.2,33.95]},"                             \
    "\"properties\":{\"elevation\":{\"unitCode\":\"wmoUnit:m\",\"value\":310},"                    \
    "\"stationIdentifier\":\"KZZZ\"}},{\"type\":\"Feature\","                                      \
    "\"geometry\":{\"type\":\"Point\",\"coordinates\":[-84.12,33.9]},"                             \
    "\"properties\":{\"elevation\":{\"unitCode\":\"wmoUnit:m\",\"value\":700},"                    \
    "\"stationIdentifier\":\"KHIGH\"}},{\"type\":\"Feature\","                                     \
    "\"geometry\":{\"type\":\"Point\",\"coordinates\":[-84.15,34.05]},"                            \
    "\"properties\":{\"elevation\":{\"unitCode\":\"wmoUnit:m\",\"value\":280},"                    \
    "\"stationIdentifier\":\"KYYY\"}},{\"type\":\"Feature\","                                      \
    "\"geometry\":{\"type\":\"Point\",\"coordinates\":[-85.1,33.9]},"                              \
    "\"properties\":{\"elevation\":{\"unitCode\":\"wmoUnit:m\",\"value\":290},"                    \
    "\"stationIdentifier\":\"KOUT\"}},{\"type\":\"Feature\","                                      \
    "\"geometry\":{\"type\":\"Point\",\"coordinates\":[-84.3,33.9]},"                              \
    "\"properties\":{\"elevation\":{\"unitCode\":\"wmoUnit:m\",\"value\":290},"                    \
    "\"stationIdentifier\":\"KMID\"}}]}"

#define NWS_OBSERVATIONS                                                                           \
    "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\","                         \
    "\"properties\":{\"station\":\"https://weather.example/stations/KZZZ\","                       \
    "\"timestamp\":\"2031-05-04T05:53:00+00:00\","                                                 \
    "\"rawMessage\":\"KZZZ 040553Z ...\","                                                         \
    "\"temperature\":{\"unitCode\":\"wmoUnit:degC\",\"value\":14.5,"                               \
    "\"qualityControl\":\"V\"},\"dewpoint\":{\"unitCode\":\"wmoUnit:degC\","                       \
    "\"value\":10.0,\"qualityControl\":\"V\"},"                                                    \
    "\"windSpeed\":{\"unitCode\":\"wmoUnit:km_h-1\",\"value\":7.2,"                                \
    "\"qualityControl\":\"V\"},"                                                                   \
    "\"relativeHumidity\":{\"unitCode\":\"wmoUnit:percent\",\"value\":74.0,"                       \
    "\"qualityControl\":\"V\"},"                                                                   \
    "\"precipitationLastHour\":{\"unitCode\":\"wmoUnit:mm\",\"value\":1.2,"                        \
    "\"qualityControl\":\"V\"},"                                                                   \
    "\"cloudLayers\":[{\"base\":{\"unitCode\":\"wmoUnit:m\",\"value\":900},"                       \
    "\"amount\":\"FEW\"}]}},{\"type\":\"Feature\","                                                \
    "\"properties\":{\"station\":\"https://weather.example/stations/KZZZ\","                       \
    "\"timestamp\":\"2031-05-04T05:20:00+00:00\",\"rawMessage\":\"\","                             \
    "\"temperature\":{\"unitCode\":\"wmoUnit:degC\",\"value\":99,"                                 \
    "\"qualityControl\":\"V\"},\"dewpoint\":{\"unitCode\":\"wmoUnit:degC\","                       \
    "\"value\":null,\"qualityControl\":\"V\"},"                                                    \
    "\"windSpeed\":{\"unitCode\":\"wmoUnit:km_h-1\",\"value\":50,"                                 \
    "\"qualityControl\":\"V\"},"                                                                   \
    "\"relativeHumidity\":{\"unitCode\":\"wmoUnit:percent\",\"value\":null,"                       \
    "\"qualityControl\":\"V\"},"                                                                   \
    "\"cloudLayers\":[{\"base\":{\"unitCode\":\"wmoUnit:m\",\"value\":900},"                       \
    "\"amount\":\"BKN\"}]}},{\"type\":\"Feature\","                                                \
    "\"properties\":{\"station\":\"https://weather.example/stations/KZZZ\","                       \
    "\"timestamp\":\"2031-05-04T04:53:00+00:00\","                                                 \
    "\"rawMessage\":\"KZZZ 040453Z ...\","                                                         \
    "\"temperature\":{\"unitCode\":\"wmoUnit:degC\",\"value\":13.3,"                               \
    "\"qualityControl\":\"V\"},\"dewpoint\":{\"unitCode\":\"wmoUnit:degC\","                       \
    "\"value\":10.6,\"qualityControl\":\"V\"},"                                                    \
    "\"windSpeed\":{\"unitCode\":\"wmoUnit:km_h-1\",\"value\":3.6,"                                \
    "\"qualityControl\":\"V\"},"                                                                   \
    "\"relativeHumidity\":{\"unitCode\":\"wmoUnit:percent\",\"value\":83.7,"                       \
    "\"qualityControl\":\"V\"},"                                                                   \
    "\"precipitationLastHour\":{\"unitCode\":\"wmoUnit:mm\",\"value\":0.4,"                        \
    "\"qualityControl\":\"V\"},"                                                                   \
    "\"cloudLayers\":[{\"base\":{\"unitCode\":\"wmoUnit:m\",\"value\":900},"                       \
    "\"amount\":\"BKN\"}]}},{\"type\":\"Feature\","                                                \
    "\"properties\":{\"station\":\"https://weather.example/stations/KZZZ\","                       \
    "\"timestamp\":\"2031-05-04T03:53:00+00:00\","                                                 \
    "\"rawMessage\":\"KZZZ 040353Z ...\","                                                         \
    "\"temperature\":{\"unitCode\":\"wmoUnit:degC\",\"value\":12.1,"                               \
    "\"qualityControl\":\"V\"},\"dewpoint\":{\"unitCode\":\"wmoUnit:degC\","                       \
    "\"value\":10.0,\"qualityControl\":\"V\"},"                                                    \
    "\"windSpeed\":{\"unitCode\":\"wmoUnit:km_h-1\",\"value\":3.6,"                                \
    "\"qualityControl\":\"V\"},"                                                                   \
    "\"relativeHumidity\":{\"unitCode\":\"wmoUnit:percent\",\"value\":87.0,"                       \
    "\"qualityControl\":\"V\"},"                                                                   \
    "\"precipitationLastHour\":{\"unitCode\":\"wmoUnit:mm\",\"value\":0.0,"                        \
    "\"qualityControl\":\"V\"},"                                                                   \
    "\"cloudLayers\":[{\"base\":{\"unitCode\":\"wmoUnit:m\",\"value\":900},"                       \
    "\"amount\":\"OVC\"}]}}],"                                                                     \
    "\"pagination\":{\"next\":\"https://weather.example/x\"}}"

#endif
