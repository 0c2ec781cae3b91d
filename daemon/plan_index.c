/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_index.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    ASK_OPEN_S = 60,    /* an open valve's controller hears of a hold within a minute */
    ASK_CLOSED_S = 300, /* a closed one of an order within five [our choice] */
};

/* A stretch of the text. */
struct span {
    const char *start;
    size_t length;
};

/* An element of one of the plan's arrays. */
struct item {
    struct span text;
    struct span zone, block; /* ids it speaks of; length 0: none */
};

/* A member of the plan: an array of objects whose elements are known, or anything else. */
struct member {
    struct span name, value;
    struct item *items;
    size_t count;
};

struct run {
    size_t zone; /* into zones */
    int64_t start_s, end_s;
    int64_t pulse_s, pause_s;
    double litres;
    char id[RECORDS_ID_SIZE + 32];
};

struct zone {
    char id[RECORDS_ID_SIZE];
    size_t first_run, run_count;
};

/* One of the plan's days, with what stands around its runs. */
struct day {
    struct span before, after; /* brackets included */
    size_t first_entry, entry_count;
};

/* A run as it is printed, by hand or not. */
struct entry {
    struct span text, zone;
};

struct block {
    struct span id;
    const struct item *item;
};

enum { MEMBERS_MAX = 40 };

struct plan_index {
    struct member members[MEMBERS_MAX];
    size_t member_count;
    struct zone *zones; /* ascending by id */
    size_t zone_count;
    struct run *runs; /* by zone, then start */
    size_t run_count, run_room;
    struct day *days; /* as the items of that member */
    struct entry *entries;
    size_t entry_count, entry_room;
    struct block *blocks; /* ascending by id */
    size_t block_count;
    int64_t good_until_s;
};

/* --- the text ----------------------------------------------------------------------------- */

/* The end of the value that starts at `at`, NULL when there is none before end. */
static const char *value_end(const char *at, const char *end)
{
    int depth = 0;
    bool inside = false;
    for (; at < end; at++) {
        if (inside) {
            if (*at == '\\')
                at++;
            else if (*at == '"')
                inside = false;
            continue;
        }
        if (*at == '"')
            inside = true;
        else if (*at == '{' || *at == '[')
            depth++;
        else if (((*at == '}' || *at == ']') && --depth < 0) || (*at == ',' && depth == 0))
            return at;
    }
    return depth == 0 && !inside ? end : NULL;
}

/* Cuts the next "name":value off *rest, which starts after '{' or a comma. */
static bool next_member(struct span *rest, struct span *name, struct span *value)
{
    const char *end = rest->start + rest->length;
    if (rest->length < 4 || rest->start[0] != '"')
        return false;
    const char *quote = memchr(rest->start + 1, '"', rest->length - 1);
    if (!quote || quote + 2 >= end || quote[1] != ':')
        return false;
    const char *stop = value_end(quote + 2, end);
    if (!stop)
        return false;
    *name = (struct span){rest->start + 1, (size_t)(quote - rest->start) - 1};
    *value = (struct span){quote + 2, (size_t)(stop - quote) - 2};
    rest->start = stop + (stop < end);
    rest->length = (size_t)(end - rest->start);
    return true;
}

static bool next_item(struct span *rest, struct span *item)
{
    const char *end = rest->start + rest->length;
    const char *stop = rest->length > 0 ? value_end(rest->start, end) : NULL;
    if (!stop)
        return false;
    *item = (struct span){rest->start, (size_t)(stop - rest->start)};
    rest->start = stop + (stop < end);
    rest->length = (size_t)(end - rest->start);
    return true;
}

/* What stands between the brackets. */
static struct span inner(struct span value)
{
    return value.length >= 2 ? (struct span){value.start + 1, value.length - 2}
                             : (struct span){value.start, 0};
}

static bool is(struct span span, const char *text)
{
    return strlen(text) == span.length && memcmp(span.start, text, span.length) == 0;
}

static bool same(struct span one, struct span other)
{
    return one.length == other.length && memcmp(one.start, other.start, one.length) == 0;
}

static struct span member_of(struct span object, const char *wanted)
{
    struct span rest = inner(object);
    struct span name;
    struct span value;
    while (next_member(&rest, &name, &value))
        if (is(name, wanted))
            return value;
    return (struct span){object.start, 0};
}

/* A string's text; ids hold nothing that JSON escapes. */
static struct span text_of(struct span value)
{
    return value.length >= 2 && value.start[0] == '"' ? inner(value)
                                                      : (struct span){value.start, 0};
}

static struct span text_member(struct span object, const char *name)
{
    return text_of(member_of(object, name));
}

/* The text goes on after a number with a comma or a bracket, which ends it. */
static double number_of(struct span value)
{
    return value.length > 0 &&
                   (value.start[0] == '-' || (value.start[0] >= '0' && value.start[0] <= '9'))
               ? strtod(value.start, NULL)
               : 0;
}

static int64_t whole_of(struct span value)
{
    return (int64_t)number_of(value);
}

static void copy(char *out, size_t size, struct span text)
{
    snprintf(out, size, "%.*s", (int)text.length, text.start);
}

/* --- making ------------------------------------------------------------------------------- */

/* Arrays that are narrowed, and where their elements name a zone and a block. */
static const struct {
    const char *name, *zone, *block;
    bool params; /* or inside "params" */
} arrays[] = {
    {"days", NULL, NULL, false},        {"zones", "id", NULL, false},
    {"blocks", "zone", "id", false},    {"waiting", "zone", NULL, false},
    {"unplaced", "zone", NULL, false},  {"by_hand", "zone", "block", false},
    {"notices", "zone", "block", true}, {"pots", NULL, NULL, false},
    {"mixes", NULL, NULL, false},
};

static void fill_item(struct item *item, struct span text, size_t array)
{
    struct span from = arrays[array].params ? member_of(text, "params") : text;
    item->text = text;
    if (arrays[array].zone)
        item->zone = text_member(from, arrays[array].zone);
    if (arrays[array].block)
        item->block = text_member(from, arrays[array].block);
}

static int fill_items(struct member *member, size_t array)
{
    struct span rest = inner(member->value);
    struct span text;
    size_t room = 0;
    while (next_item(&rest, &text)) {
        if (member->count == room) {
            size_t larger = room ? 2 * room : 16;
            struct item *items = realloc(member->items, larger * sizeof *items);
            if (!items)
                return -1;
            member->items = items;
            room = larger;
        }
        member->items[member->count] = (struct item){.text = text};
        fill_item(&member->items[member->count++], text, array);
    }
    return 0;
}

static int fill_members(struct plan_index *index, struct span plan)
{
    struct span rest = inner(plan);
    struct member member = {.count = 0};
    while (next_member(&rest, &member.name, &member.value)) {
        if (index->member_count == MEMBERS_MAX)
            return -1;
        struct member *kept = &index->members[index->member_count++];
        *kept = member;
        for (size_t i = 0; i < sizeof arrays / sizeof arrays[0]; i++)
            if (is(kept->name, arrays[i].name) && fill_items(kept, i) != 0)
                return -1;
    }
    return rest.length == 0 ? 0 : -1;
}

static const struct member *find_member(const struct plan_index *index, const char *name)
{
    for (size_t i = 0; i < index->member_count; i++)
        if (is(index->members[i].name, name))
            return &index->members[i];
    return NULL;
}

static int compare_spans(struct span one, struct span other)
{
    size_t common = one.length < other.length ? one.length : other.length;
    int order = memcmp(one.start, other.start, common);
    return order != 0 ? order : (one.length > other.length) - (one.length < other.length);
}

static int by_block(const void *a, const void *b)
{
    return compare_spans(((const struct block *)a)->id, ((const struct block *)b)->id);
}

static const struct item *find_block(const struct plan_index *index, struct span id)
{
    const struct block key = {.id = id};
    const struct block *found =
        index->block_count > 0
            ? bsearch(&key, index->blocks, index->block_count, sizeof key, by_block)
            : NULL;
    return found ? found->item : NULL;
}

/* The blocks by their ids; a notice that names a block alone gets its zone. */
static int fill_blocks(struct plan_index *index)
{
    const struct member *blocks = find_member(index, "blocks");
    struct member *notices = NULL;
    for (size_t i = 0; i < index->member_count; i++)
        if (is(index->members[i].name, "notices"))
            notices = &index->members[i];
    index->blocks = calloc((blocks ? blocks->count : 0) + 1, sizeof *index->blocks);
    if (!index->blocks)
        return -1;
    for (size_t b = 0; blocks && b < blocks->count; b++)
        index->blocks[index->block_count++] =
            (struct block){blocks->items[b].block, &blocks->items[b]};
    qsort(index->blocks, index->block_count, sizeof *index->blocks, by_block);
    for (size_t n = 0; notices && n < notices->count; n++) {
        struct item *notice = &notices->items[n];
        const struct item *block = notice->zone.length == 0 && notice->block.length > 0
                                       ? find_block(index, notice->block)
                                       : NULL;
        if (block)
            notice->zone = block->zone;
    }
    return 0;
}

static int by_id(const void *a, const void *b)
{
    return strcmp(((const struct zone *)a)->id, ((const struct zone *)b)->id);
}

static int fill_zones(struct plan_index *index)
{
    const struct member *zones = find_member(index, "zones");
    if (!zones)
        return -1;
    index->zones = calloc(zones->count + 1, sizeof *index->zones);
    if (!index->zones)
        return -1;
    for (size_t i = 0; i < zones->count; i++)
        copy(index->zones[index->zone_count++].id, RECORDS_ID_SIZE, zones->items[i].zone);
    qsort(index->zones, index->zone_count, sizeof *index->zones, by_id);
    return 0;
}

static const struct zone *find_zone(const struct plan_index *index, const char *id)
{
    struct zone key;
    snprintf(key.id, sizeof key.id, "%s", id);
    return bsearch(&key, index->zones, index->zone_count, sizeof key, by_id);
}

/* array, or a larger one, with room for one more element; NULL (and array stays) without memory. */
static void *make_room(void *array, size_t count, size_t *room, size_t element_size)
{
    size_t wanted = *room ? 2 * *room : 64;
    if (count < *room)
        return array;
    void *larger = realloc(array, wanted * element_size);
    if (larger)
        *room = wanted;
    return larger;
}

/* A run by hand opens no valve. */
static int add_run(struct plan_index *index, struct span text, struct span zone_id)
{
    char zone[RECORDS_ID_SIZE];
    copy(zone, sizeof zone, zone_id);
    const struct zone *found = find_zone(index, zone);
    if (!found || is(member_of(text, "by_hand"), "true"))
        return found ? 0 : -1;
    struct run *runs =
        make_room(index->runs, index->run_count, &index->run_room, sizeof *index->runs);
    if (!runs)
        return -1;
    index->runs = runs;
    struct run *run = &index->runs[index->run_count++];
    *run = (struct run){
        .zone = (size_t)(found - index->zones),
        .start_s = whole_of(member_of(text, "start_s")),
        .end_s = whole_of(member_of(text, "end_s")),
        .pulse_s = 60 * whole_of(member_of(text, "pulse_minutes")),
        .pause_s = 60 * whole_of(member_of(text, "pause_minutes")),
        .litres = number_of(member_of(text, "litres")),
    };
    if (whole_of(member_of(text, "pulses")) < 2)
        run->pause_s = 0;
    copy(run->id, sizeof run->id, text_member(text, "id"));
    return 0;
}

static int by_zone_and_start(const void *a, const void *b)
{
    const struct run *one = a;
    const struct run *other = b;
    if (one->zone != other->zone)
        return one->zone < other->zone ? -1 : 1;
    return one->start_s < other->start_s ? -1 : one->start_s > other->start_s;
}

static int add_entry(struct plan_index *index, struct span text, struct span zone)
{
    struct entry *entries =
        make_room(index->entries, index->entry_count, &index->entry_room, sizeof *index->entries);
    if (!entries)
        return -1;
    index->entries = entries;
    index->entries[index->entry_count++] = (struct entry){text, zone};
    return 0;
}

static int fill_day(struct plan_index *index, struct span text, struct day *day)
{
    struct span runs = member_of(text, "runs");
    struct span rest = inner(runs);
    struct span run;
    const char *start = rest.start;
    const char *end = rest.start + rest.length;
    if (runs.length < 2)
        return -1;
    *day = (struct day){.before = {text.start, (size_t)(start - text.start)},
                        .after = {end, (size_t)(text.start + text.length - end)},
                        .first_entry = index->entry_count};
    while (next_item(&rest, &run)) {
        struct span zone = text_member(run, "zone");
        if (add_entry(index, run, zone) != 0 || add_run(index, run, zone) != 0)
            return -1;
        day->entry_count++;
    }
    return 0;
}

static int fill_runs(struct plan_index *index)
{
    const struct member *days = find_member(index, "days");
    if (!days)
        return -1;
    index->days = calloc(days->count + 1, sizeof *index->days);
    if (!index->days)
        return -1;
    for (size_t d = 0; d < days->count; d++)
        if (fill_day(index, days->items[d].text, &index->days[d]) != 0)
            return -1;
    if (index->run_count > 0)
        qsort(index->runs, index->run_count, sizeof *index->runs, by_zone_and_start);
    for (size_t r = 0; r < index->run_count; r++) {
        struct zone *zone = &index->zones[index->runs[r].zone];
        if (zone->run_count++ == 0)
            zone->first_run = r;
    }
    return 0;
}

struct plan_index *plan_index_new(const char *text, size_t length)
{
    struct plan_index *index = calloc(1, sizeof *index);
    const struct span plan = {text, length};
    if (!index || length < 2 || text[0] != '{' || fill_members(index, plan) != 0 ||
        fill_zones(index) != 0 || fill_blocks(index) != 0 || fill_runs(index) != 0) {
        plan_index_free(index);
        return NULL;
    }
    const struct member *good = find_member(index, "good_until_s");
    index->good_until_s = good ? whole_of(good->value) : 0;
    return index;
}

void plan_index_free(struct plan_index *index)
{
    if (!index)
        return;
    for (size_t i = 0; i < index->member_count; i++)
        free(index->members[i].items);
    free(index->zones);
    free(index->runs);
    free(index->days);
    free(index->blocks);
    free(index->entries);
    free(index);
}

/* --- should a valve be open --------------------------------------------------------------- */

size_t plan_index_zones(const struct plan_index *index)
{
    return index->zone_count;
}

/* Where in the run's pulses now is: *until_s, when that changes. */
static bool is_open(const struct run *run, int64_t now_s, int64_t *until_s)
{
    if (now_s < run->start_s) {
        *until_s = run->start_s;
        return false;
    }
    if (run->pause_s <= 0 || run->pulse_s <= 0) {
        *until_s = run->end_s;
        return true;
    }
    int64_t cycle_s = run->pulse_s + run->pause_s;
    int64_t began_s = run->start_s + (now_s - run->start_s) / cycle_s * cycle_s;
    bool open = now_s < began_s + run->pulse_s;
    *until_s = open ? began_s + run->pulse_s : began_s + cycle_s;
    if (*until_s > run->end_s)
        *until_s = run->end_s;
    return open;
}

void plan_index_due(const struct plan_index *index, size_t zone, int64_t now_s,
                    struct plan_due *due)
{
    const struct zone *found = &index->zones[zone];
    *due = (struct plan_due){
        .zone = found->id, .good_until_s = index->good_until_s, .run = "", .litres = 0};
    for (size_t r = 0; r < found->run_count && now_s < index->good_until_s; r++) {
        const struct run *run = &index->runs[found->first_run + r];
        if (run->end_s <= now_s)
            continue;
        due->open = is_open(run, now_s, &due->until_s);
        due->run = run->id;
        due->litres = run->litres;
        break;
    }
    due->ask_again_s = now_s + (due->open ? ASK_OPEN_S : ASK_CLOSED_S);
    if (due->until_s > now_s && due->until_s < due->ask_again_s)
        due->ask_again_s = due->until_s;
}

bool plan_index_due_of(const struct plan_index *index, const char *zone, int64_t now_s,
                       struct plan_due *due)
{
    const struct zone *found = strlen(zone) < RECORDS_ID_SIZE ? find_zone(index, zone) : NULL;
    if (!found)
        return false;
    plan_index_due(index, (size_t)(found - index->zones), now_s, due);
    return true;
}

/* "name":"2026-...","name_s":178... or nulls. */
static int print_time(const char *name, int64_t t_s, const struct civil_zone *time_zone, char *out,
                      size_t size)
{
    char text[CIVIL_TEXT];
    if (t_s <= 0)
        return snprintf(out, size, ",\"%s\":null,\"%s_s\":null", name, name);
    civil_format_rfc3339(t_s, civil_offset_at(time_zone, t_s), text);
    return snprintf(out, size, ",\"%s\":\"%s\",\"%s_s\":%lld", name, text, name, (long long)t_s);
}

size_t plan_due_print(const struct plan_due *due, const struct civil_zone *time_zone,
                      char out[PLAN_DUE_SIZE])
{
    int n = snprintf(out, PLAN_DUE_SIZE, "{\"zone\":\"%.40s\",\"open\":%s", due->zone,
                     due->open ? "true" : "false");
    n += print_time("until", due->until_s, time_zone, out + n, PLAN_DUE_SIZE - (size_t)n);
    n +=
        print_time("ask_again_at", due->ask_again_s, time_zone, out + n, PLAN_DUE_SIZE - (size_t)n);
    n += print_time("good_until", due->good_until_s, time_zone, out + n, PLAN_DUE_SIZE - (size_t)n);
    if (due->run[0])
        n += snprintf(out + n, PLAN_DUE_SIZE - (size_t)n, ",\"run\":\"%.72s\",\"litres\":%.0f}",
                      due->run, due->litres < 1e9 ? due->litres : 1e9);
    else
        n += snprintf(out + n, PLAN_DUE_SIZE - (size_t)n, ",\"run\":null,\"litres\":null}");
    return (size_t)n;
}

/* --- narrowed ----------------------------------------------------------------------------- */

static bool wants(const char *text)
{
    return text && text[0];
}

/* What is wanted, resolved: a block brings its zone. */
struct narrow {
    const struct plan_index *index;
    const struct plan_narrowing *wanted;
    struct span zone; /* length 0: any */
    FILE *out;
};

static const struct item *wanted_block(const struct plan_index *index,
                                       const struct plan_narrowing *wanted)
{
    return wants(wanted->block)
               ? find_block(index, (struct span){wanted->block, strlen(wanted->block)})
               : NULL;
}

static bool has_date(const struct plan_index *index, const char *date)
{
    const struct member *days = find_member(index, "days");
    for (size_t d = 0; days && d < days->count; d++)
        if (is(text_member(days->items[d].text, "date"), date))
            return true;
    return false;
}

const char *plan_index_lacks(const struct plan_index *index, const struct plan_narrowing *wanted)
{
    const struct item *block = wanted_block(index, wanted);
    if (wants(wanted->date) && !has_date(index, wanted->date))
        return "date";
    if (wants(wanted->zone) &&
        (strlen(wanted->zone) >= RECORDS_ID_SIZE || !find_zone(index, wanted->zone)))
        return "zone";
    if (wants(wanted->block) && (!block || (wants(wanted->zone) && !is(block->zone, wanted->zone))))
        return "block";
    return NULL;
}

static bool keeps_zone(const struct narrow *n, struct span zone)
{
    return n->zone.length == 0 || same(n->zone, zone);
}

static bool keeps_block(const struct narrow *n, const struct item *item)
{
    return keeps_zone(n, item->zone) &&
           (!wants(n->wanted->block) || is(item->block, n->wanted->block));
}

/* What names a zone, a block in it, or (a notice: everybody's) neither. */
static bool keeps_named(const struct narrow *n, const struct item *item)
{
    if (item->block.length > 0 && wants(n->wanted->block) && !is(item->block, n->wanted->block))
        return false;
    return item->zone.length == 0 || keeps_zone(n, item->zone);
}

/* Pots and mixes that a kept block has. */
static bool keeps_used(const struct narrow *n, const struct item *item, bool mix)
{
    const struct member *blocks = find_member(n->index, "blocks");
    struct span id = text_member(item->text, "id");
    struct span batch = mix ? text_member(item->text, "batch") : id;
    if (n->zone.length == 0)
        return true;
    for (size_t b = 0; blocks && b < blocks->count; b++) {
        const struct item *block = &blocks->items[b];
        if (keeps_block(n, block) && same(text_member(block->text, mix ? "mix" : "pot"), id) &&
            (!mix || same(text_member(block->text, "batch"), batch)))
            return true;
    }
    return false;
}

static bool keeps(const struct narrow *n, const struct member *member, const struct item *item)
{
    if (is(member->name, "days"))
        return !wants(n->wanted->date) || is(text_member(item->text, "date"), n->wanted->date);
    if (is(member->name, "blocks"))
        return keeps_block(n, item);
    if (is(member->name, "notices") || is(member->name, "by_hand"))
        return keeps_named(n, item);
    if (is(member->name, "pots") || is(member->name, "mixes"))
        return keeps_used(n, item, is(member->name, "mixes"));
    return keeps_zone(n, item->zone);
}

static void print_span(const struct narrow *n, struct span text)
{
    fwrite(text.start, 1, text.length, n->out);
}

static void print_name(const struct narrow *n, const char *comma, struct span name)
{
    fprintf(n->out, "%s\"%.*s\":", comma, (int)name.length, name.start);
}

static void print_day(const struct narrow *n, const struct day *day)
{
    const char *comma = "";
    print_span(n, day->before);
    for (size_t e = day->first_entry; e < day->first_entry + day->entry_count; e++) {
        if (!keeps_zone(n, n->index->entries[e].zone))
            continue;
        fputs(comma, n->out);
        print_span(n, n->index->entries[e].text);
        comma = ",";
    }
    print_span(n, day->after);
}

static void print_member(const struct narrow *n, const struct member *member)
{
    const char *comma = "";
    if (!member->items) {
        print_span(n, member->value);
        return;
    }
    fputc('[', n->out);
    for (size_t i = 0; i < member->count; i++) {
        const struct item *item = &member->items[i];
        if (!keeps(n, member, item))
            continue;
        fputs(comma, n->out);
        if (is(member->name, "days"))
            print_day(n, &n->index->days[i]);
        else
            print_span(n, item->text);
        comma = ",";
    }
    fputc(']', n->out);
}

char *plan_index_narrow(const struct plan_index *index, const struct plan_narrowing *wanted,
                        size_t *length)
{
    char *text = NULL;
    struct narrow n = {.index = index, .wanted = wanted};
    const struct item *block = wanted_block(index, wanted);
    if (wants(wanted->zone))
        n.zone = (struct span){wanted->zone, strlen(wanted->zone)};
    else if (block)
        n.zone = block->zone;
    n.out = open_memstream(&text, length);
    if (!n.out)
        return NULL;
    fputc('{', n.out);
    for (size_t i = 0; i < index->member_count; i++) {
        print_name(&n, i ? "," : "", index->members[i].name);
        print_member(&n, &index->members[i]);
    }
    fputc('}', n.out);
    bool failed = ferror(n.out) != 0;
    if (fclose(n.out) != 0 || failed) {
        free(text);
        return NULL;
    }
    return text;
}

/* --- looked at piece by piece ------------------------------------------------------------- */

bool plan_index_number(const struct plan_index *index, const char *object, const char *name,
                       double *value)
{
    const struct member *member = find_member(index, object ? object : name);
    struct span span = {"", 0};
    if (member)
        span = object ? member_of(member->value, name) : member->value;
    if (span.length == 0 || span.start[0] == 'n')
        return false;
    *value = number_of(span);
    return true;
}

size_t plan_index_count(const struct plan_index *index, const char *array, const char *name,
                        const char *text)
{
    const struct member *member = find_member(index, array);
    size_t count = 0;
    for (size_t i = 0; member && i < member->count; i++)
        count += !name || is(text_member(member->items[i].text, name), text);
    return count;
}

json_t *plan_index_item(const struct plan_index *index, const char *array, const char *id)
{
    const struct member *member = find_member(index, array);
    for (size_t i = 0; member && i < member->count; i++) {
        struct span text = member->items[i].text;
        if (is(text_member(text, "id"), id))
            return json_loadb(text.start, text.length, 0, NULL);
    }
    return NULL;
}

void plan_index_each_run(const struct plan_index *index,
                         void (*take)(void *context, const char *text, size_t length),
                         void *context)
{
    for (size_t e = 0; e < index->entry_count; e++)
        take(context, index->entries[e].text.start, index->entries[e].text.length);
}
