/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a request's head, cut into lines as the HTTP library would: target, then 'Name:
 * value' lines. Whatever comes in is judged without reading past an end, and what two readers could
 * take differently is never let through.
 */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "daemon/request.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

static void request_need(int truth)
{
    if (!truth)
        abort();
}

struct head {
    unsigned hosts, lengths, codings;
};

static void take_line(struct request *request, const struct request_rules *rules, char *line,
                      struct head *head)
{
    char *colon = strchr(line, ':');
    if (!colon)
        return;
    *colon = '\0';
    const char *value = colon + 1 + strspn(colon + 1, " ");
    head->hosts += strcasecmp(line, "Host") == 0;
    head->lengths += strcasecmp(line, "Content-Length") == 0;
    head->codings += strcasecmp(line, "Transfer-Encoding") == 0;
    request_take_field(request, rules, line, (size_t)(colon - line), value);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    const struct assets none = {NULL, 0};
    const struct request_rules rules = {.assets = &none,
                                        .own = {.listen = "127.0.0.1", .port = 8321},
                                        .body_bytes = 100,
                                        .body_drain_bytes = 1000};
    struct request request;
    struct head head = {0, 0, 0};
    char *text = malloc(size + 1);
    request_need(text != NULL);
    if (size > 0)
        memcpy(text, bytes, size);
    text[size] = '\0';
    char *rest = text;
    char *target = strsep(&rest, "\n");
    request_begin(&request, target);
    request_take_url(&request, &rules, target);
    for (char *line = strsep(&rest, "\n"); line; line = strsep(&rest, "\n"))
        take_line(&request, &rules, line, &head);
    request_end_head(&request);
    if (head.hosts > 1 || head.lengths > 1 || head.codings > 1 || (head.lengths && head.codings))
        request_need(request.refusal.status >= 400);
    request_need(request.refusal.status == PROBLEM_NONE || request.refusal.detail);
    request_need(request_take_body(&request, &rules, 1000));
    request_need(!request_take_body(&request, &rules, 1));
    request_need(request_judge(&request, &rules, "GET").status == PROBLEM_CONTENT_TOO_LARGE);
    request.received = 0;
    struct problem judged = request_judge(&request, &rules, "GET");
    request_need(judged.status == PROBLEM_NONE || judged.detail);
    enum field_language language = FIELD_SPANISH;
    char *problem = problem_text(&judged, &language);
    request_need(problem != NULL);
    free(problem);
    free(text);
    return 0;
}
