/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"

#include <math.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "daemon/import.h"
#include "daemon/store_access.h"
#include "scratch.h"

/* A store in a folder of its own, with CSV files beside it. */
struct desk {
    struct scratch scratch;
    struct store *store;
    char report[2048];
    struct error error;
};

static void open_desk(struct desk *desk)
{
    *desk = (struct desk){.error = {""}};
    scratch_open(&desk->scratch);
    desk->store = store_open(scratch_path(&desk->scratch, "s.sqlite"), false, &desk->error);
    assert_non_null(desk->store);
}

static void close_desk(struct desk *desk)
{
    store_close(desk->store);
    scratch_close(&desk->scratch);
}

/* The smallest nursery that can be planned: one of each thing. */
static const char *const whole[][2] = {
    {"mixes.csv", "mix,name,class\nbark,Aged bark,bark-aged\n"},
    {"bench_tests.csv", "mix,tested,vessel_height_cm,vessel_volume_ml,drained_ml\n"
                        "bark,2026-02-20,12,1000,224 216 227\n"},
    {"pots.csv", "pot,form,top_cm,bottom_cm,fill_height_cm\nr3,round,18.8,14.6,16\n"},
    {"covers.csv", "cover,transmissivity,rain\ntunnel,0.7,no\n"},
    {"supplies.csv", "supply,flow_l_min,valves_at_once\npump,140,3\n"},
    {"zones.csv", "zone,supply,method,flow_l_min,rate_mm_h\nbed,pump,overhead,60,12\n"},
    {"windows.csv", "zone,from,to,days\n,04:00,sunrise+2:00,\nbed,03:00,09:00,\n"},
    {"blocks.csv", "block,zone,pots,pot,mix,from,spacing_cm,canopy_cm,plant_height_m\n"
                   "lav,bed,1500,r3,bark,2026-03-01,28,21,0.3\n"},
};

#define WHOLE (sizeof whole / sizeof whole[0])

static void write_whole(struct desk *desk)
{
    for (size_t i = 0; i < WHOLE; i++)
        scratch_write(&desk->scratch, whole[i][0], whole[i][1]);
}

static int import_here(struct desk *desk, const char *name)
{
    FILE *report = fmemopen(desk->report, sizeof desk->report, "w");
    assert_non_null(report);
    desk->report[0] = '\0';
    int result = import_path(desk->store, scratch_path(&desk->scratch, name), report, &desk->error);
    fclose(report);
    return result;
}

static void import_good(struct desk *desk, const char *name)
{
    if (import_here(desk, name))
        fail_msg("refused: %s", desk->error.text);
}

static int print_row(void *out, int count, char **values, char **names)
{
    (void)names;
    for (int i = 0; i < count; i++)
        fprintf(out, "%s|", values[i] ? values[i] : "-");
    fputc('\n', out);
    return 0;
}

/* Everything people gave, as one text that the caller frees. */
static char *dump(struct desk *desk)
{
    static const char *const tables[] = {
        "mix",          "bench_test",  "pot",         "cover",       "supply",         "zone",
        "zone_window",  "block",       "weighing",    "run",         "gauge",          "normal",
        "station_hour", "block_state", "pot_event",   "touch_check", "watering_order", "hold",
        "requirement",  "catch_cans",  "drain_catch", "pour_through"};
    char *text = NULL;
    size_t length = 0;
    char sql[128];
    sqlite3 *db = NULL;
    FILE *out = open_memstream(&text, &length);
    assert_int_equal(sqlite3_open(scratch_path(&desk->scratch, "s.sqlite"), &db), SQLITE_OK);
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        fprintf(out, "%s\n", tables[i]);
        snprintf(sql, sizeof sql, "SELECT * FROM \"%s\" ORDER BY 1, 2", tables[i]);
        assert_int_equal(sqlite3_exec(db, sql, print_row, out, NULL), SQLITE_OK);
    }
    sqlite3_close(db);
    fclose(out);
    return text;
}

static char *number_of(struct desk *desk, const char *sql, char *text, size_t size)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *row = NULL;
    assert_int_equal(sqlite3_open(scratch_path(&desk->scratch, "s.sqlite"), &db), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &row, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(row), SQLITE_ROW);
    snprintf(text, size, "%s", (const char *)sqlite3_column_text(row, 0));
    sqlite3_finalize(row);
    sqlite3_close(db);
    return text;
}

static void expect_sql(struct desk *desk, const char *sql, const char *wanted)
{
    char text[256];
    assert_string_equal(number_of(desk, sql, text, sizeof text), wanted);
}

/* Beside the whole nursery the file is refused with 'FILE:LINE: wanted', and nothing changes. */
static void expect_refused(const char *name, const char *text, const char *wanted)
{
    struct desk desk;
    char begins[512];
    open_desk(&desk);
    write_whole(&desk);
    import_good(&desk, "");
    char *before = dump(&desk);
    scratch_write(&desk.scratch, name, text);
    if (import_here(&desk, name) != -1)
        fail_msg("%s was accepted, expected '%s'", name, wanted);
    snprintf(begins, sizeof begins, "%s/%s:%s", desk.scratch.folder, name, wanted);
    if (strncmp(desk.error.text, begins, strlen(begins)) != 0)
        fail_msg("said     '%s'\nexpected '%s'", desk.error.text, begins);
    assert_string_equal(desk.report, "");
    char *after = dump(&desk);
    assert_string_equal(after, before);
    free(before);
    free(after);
    close_desk(&desk);
}

/* --- what lands --------------------------------------------------------------------------- */

static void import_path_folder_lands_and_is_reported(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    write_whole(&desk);
    import_good(&desk, "");
    assert_string_equal(desk.report, "mixes.csv: 1 rows, 1 added, 0 changed\n"
                                     "bench_tests.csv: 1 rows, 1 added, 0 changed\n"
                                     "pots.csv: 1 rows, 1 added, 0 changed\n"
                                     "covers.csv: 1 rows, 1 added, 0 changed\n"
                                     "supplies.csv: 1 rows, 1 added, 0 changed\n"
                                     "zones.csv: 1 rows, 1 added, 0 changed\n"
                                     "windows.csv: 2 rows, 2 added, 0 changed\n"
                                     "blocks.csv: 1 rows, 1 added, 0 changed\n");
    char *first = dump(&desk);
    import_good(&desk, "");
    assert_non_null(strstr(desk.report, "zones.csv: 1 rows, 0 added, 0 changed\n"
                                        "windows.csv: 2 rows, 0 added, 0 changed\n"));
    /* windows are written anew, with new numbers; all else is untouched */
    expect_sql(&desk, "SELECT count(*) FROM zone_window", "2");
    free(first);
    close_desk(&desk);
}

static void import_path_demo_nursery_is_what_it_promises(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    if (import_path(desk.store, PERCHD_SOURCE "/config/demo", NULL, &desk.error))
        fail_msg("%s", desk.error.text);
    expect_sql(&desk, "SELECT count(*) >= 14 FROM block", "1");
    expect_sql(&desk, "SELECT count(*) FROM zone", "7");
    expect_sql(&desk, "SELECT count(DISTINCT method) FROM zone", "5");
    expect_sql(&desk, "SELECT count(*) >= 2 FROM zone WHERE method = 'overhead'", "1");
    expect_sql(&desk, "SELECT count(*) FROM mix", "4");
    expect_sql(&desk, "SELECT count(*) FROM pot", "6");
    expect_sql(&desk, "SELECT count(*) FROM normal", "12");
    expect_sql(&desk, "SELECT count(*) FROM run", "0");
    expect_sql(&desk, "SELECT count(*) > 0 FROM block_state WHERE cover = 'tunnel'", "1");
    expect_sql(&desk, "SELECT count(*) > 0 FROM bench_test WHERE mass_dry_g > 0", "1");
    /* the pump cannot feed all valves at once: two to three times too small */
    expect_sql(&desk,
               "SELECT sum(zone.flow_l_min) BETWEEN 2 * supply.flow_l_min AND"
               " 3 * supply.flow_l_min FROM zone JOIN supply USING (supply)",
               "1");
    /* no valve asks for more than the pump has */
    expect_sql(&desk,
               "SELECT max(zone.flow_l_min) <= supply.flow_l_min FROM zone JOIN supply USING "
               "(supply)",
               "1");
    close_desk(&desk);
}

/* A zone's flow is what its bed or its emitters take: rate x area, pots x emitters. The bed is a
 * little larger than the pots' ground. */
static void import_path_demo_flows_agree_with_beds(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    assert_int_equal(import_path(desk.store, PERCHD_SOURCE "/config/demo", NULL, &desk.error), 0);
    expect_sql(&desk,
               "SELECT coalesce(group_concat(zone), 'none') FROM (SELECT zone, flow_l_min,"
               " sum(pots * spacing_cm * coalesce(row_cm, spacing_cm) / 1e4) * rate_mm_h / 60 AS l"
               " FROM zone JOIN block_state USING (zone) WHERE method = 'overhead' GROUP BY zone)"
               " WHERE NOT flow_l_min BETWEEN l AND 1.35 * l",
               "none");
    expect_sql(&desk,
               "SELECT coalesce(group_concat(zone), 'none') FROM (SELECT zone, flow_l_min,"
               " sum(pots) * emitters_per_pot * emitter_l_h / 60 AS l"
               " FROM zone JOIN block_state USING (zone) WHERE method IN ('drip', 'spray')"
               " GROUP BY zone) WHERE NOT flow_l_min BETWEEN 0.97 * l AND 1.03 * l",
               "none");
    close_desk(&desk);
}

static void import_path_demo_has_a_wet_pot_and_a_mixed_zone(void **state)
{
    (void)state;
    struct desk desk;
    const struct sun_site site = {41.76, -8.78, 60};
    const struct civil_offset utc = {0, 0};
    const struct civil_zone zone = {&utc, 1};
    struct records r;
    size_t wet = 0;
    open_desk(&desk);
    assert_int_equal(import_path(desk.store, PERCHD_SOURCE "/config/demo", NULL, &desk.error), 0);
    assert_int_equal(store_load(desk.store, 1785000000, &site, &zone, 14, 8, &r, &desk.error), 0);
    for (size_t b = 0; b < r.nursery.block_count; b++) {
        const struct nursery_state *s = &r.nursery.states[r.nursery.blocks[b].first_state];
        const struct bench_fit *mix = &r.nursery.mixes[s->mix];
        struct pot_figures figures;
        assert_int_equal(pot_at_capacity(&r.nursery.pots[s->pot], &mix->curve, mix, 0, &figures),
                         STATUS_OK);
        if (figures.air_space < 0.10) { /* below that roots lack air */
            assert_string_equal(r.blocks[b].id, "begonia-bowls");
            wet++;
        }
    }
    assert_int_equal(wet, 1);
    records_free(&r);
    close_desk(&desk);
}

/* The handbook's own example rows, all of them, are good. */
static void import_path_handbook_examples_are_taken(void **state)
{
    (void)state;
    struct desk desk;
    char line[1024];
    char name[64] = "";
    FILE *book = fopen(PERCHD_SOURCE "/docs/records.md", "r");
    FILE *file = NULL;
    size_t files = 0;
    assert_non_null(book);
    open_desk(&desk);
    write_whole(&desk); /* what the rows refer to */
    while (fgets(line, sizeof line, book)) {
        if (sscanf(line, "## %63s", name) == 1)
            continue;
        if (strcmp(line, "```csv\n") == 0) {
            char path[80];
            snprintf(path, sizeof path, "doc-%s", name);
            file = fopen(scratch_path(&desk.scratch, path), "w");
            assert_non_null(file);
            files++;
        } else if (strcmp(line, "```\n") == 0) {
            fclose(file);
            file = NULL;
        } else if (file) {
            fputs(line, file);
        }
    }
    fclose(book);
    assert_int_equal(files, KIND_COUNT);
    if (import_path(desk.store, PERCHD_SOURCE "/config/demo", NULL, &desk.error))
        fail_msg("%s", desk.error.text);
    for (int i = 0; i < KIND_COUNT; i++) {
        char from[256];
        char to[256];
        const char *stem = kind_of((enum kind_id)i)->stem;
        snprintf(from, sizeof from, "%s/doc-%s.csv", desk.scratch.folder, stem);
        snprintf(to, sizeof to, "%s/%s.csv", desk.scratch.folder, stem);
        assert_int_equal(rename(from, to), 0);
        snprintf(name, sizeof name, "%s.csv", stem);
        import_good(&desk, name);
    }
    close_desk(&desk);
}

static void import_path_changed_rows_replace(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    write_whole(&desk);
    import_good(&desk, "");
    scratch_write(&desk.scratch, "supplies.csv",
                  "supply,flow_l_min,valves_at_once,name\npump,150,3,\nwell,80,1,The well\n");
    import_good(&desk, "supplies.csv");
    assert_string_equal(desk.report, "supplies.csv: 2 rows, 1 added, 1 changed\n");
    expect_sql(&desk, "SELECT flow_l_min FROM supply WHERE supply = 'pump'", "150.0");
    expect_sql(&desk, "SELECT name FROM supply WHERE supply = 'well'", "The well");
    close_desk(&desk);
}

static void import_path_block_again_adds_or_replaces_a_state(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    write_whole(&desk);
    import_good(&desk, "");
    scratch_write(&desk.scratch, "blocks.csv",
                  "block,zone,pots,pot,mix,from,spacing_cm,canopy_cm,plant_height_m\n"
                  "lav,bed,1400,r3,bark,2026-03-01,28,21,0.3\n"
                  "lav,bed,1200,r3,bark,2026-05-01,32,26,0.35\n");
    import_good(&desk, "blocks.csv");
    assert_string_equal(desk.report, "blocks.csv: 2 rows, 1 added, 1 changed\n");
    expect_sql(&desk, "SELECT group_concat(pots) FROM block_state", "1400,1200");
    expect_sql(&desk, "SELECT count(*) FROM block", "1");
    close_desk(&desk);
}

static void import_path_windows_replace_those_of_their_zones(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    write_whole(&desk);
    import_good(&desk, "");
    scratch_write(&desk.scratch, "windows.csv",
                  "from,to,zone\n05:00,09:00,bed\n03:00,09:00,bed\n12:00,13:00,bed\n");
    import_good(&desk, "windows.csv");
    assert_string_equal(desk.report, "windows.csv: 3 rows, 2 added, 0 changed\n");
    expect_sql(&desk,
               "SELECT group_concat(from_edge) FROM (SELECT * FROM zone_window WHERE zone ="
               " 'bed' ORDER BY from_edge)",
               "03:00,05:00,12:00");
    expect_sql(&desk, "SELECT from_edge FROM zone_window WHERE zone IS NULL", "04:00");
    scratch_write(&desk.scratch, "windows.csv", "from,to,zone\n03:00,09:00,bed\n");
    import_good(&desk, "windows.csv");
    assert_string_equal(desk.report, "windows.csv: 1 rows, 0 added, 0 changed, 2 removed\n");
    expect_sql(&desk, "SELECT group_concat(from_edge) FROM (SELECT * FROM zone_window ORDER BY 1)",
               "04:00,03:00");
    close_desk(&desk);
}

/* Given again in another order, none is lost and none is double. */
static void import_path_windows_again_in_another_order_stay(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    write_whole(&desk);
    scratch_write(&desk.scratch, "windows.csv", "from,to\n04:00,05:00\n06:00,07:00\n");
    import_good(&desk, "");
    scratch_write(&desk.scratch, "windows.csv", "from,to\n06:00,07:00\n04:00,05:00\n");
    import_good(&desk, "windows.csv");
    assert_string_equal(desk.report, "windows.csv: 2 rows, 0 added, 0 changed\n");
    expect_sql(&desk,
               "SELECT group_concat(from_edge) FROM (SELECT * FROM zone_window ORDER BY "
               "from_edge)",
               "04:00,06:00");
    close_desk(&desk);
}

static void import_path_column_order_is_free(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    scratch_write(&desk.scratch, "pots.csv",
                  "\xef\xbb\xbf"
                  "fill_height_cm,name,pot,top_cm,form,bottom_cm\r\n"
                  "16,\"Round, 3 L\",r3,18.8,round,14.6\r\n\r\n,,,,,\r\n");
    import_good(&desk, "pots.csv");
    assert_string_equal(desk.report, "pots.csv: 1 rows, 1 added, 0 changed\n");
    expect_sql(&desk, "SELECT name || top_cm FROM pot", "Round, 3 L18.8");
    close_desk(&desk);
}

static void import_path_other_files_of_a_folder_are_named(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    write_whole(&desk);
    scratch_write(&desk.scratch, "zone.csv", "x\n1\n");
    scratch_write(&desk.scratch, "notes.txt", "x\n");
    import_good(&desk, "");
    assert_non_null(strstr(desk.report, "zone.csv: not one of perchd's files, left out\n"));
    assert_null(strstr(desk.report, "notes.txt"));
    close_desk(&desk);
}

/* --- what does not ------------------------------------------------------------------------ */

static void import_path_names_that_say_nothing_are_refused(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    scratch_write(&desk.scratch, "plants.csv", "a,b\n1,2\n");
    assert_int_equal(import_here(&desk, "plants.csv"), -1);
    assert_non_null(strstr(desk.error.text, "accepted are a folder or mixes.csv bench_tests.csv"));
    scratch_write(&desk.scratch, "zones.txt", "a,b\n1,2\n");
    assert_int_equal(import_here(&desk, "zones.txt"), -1);
    assert_non_null(strstr(desk.error.text, "/zones.txt: not a name that says"));
    assert_int_equal(import_here(&desk, "nothing.csv"), -1);
    assert_non_null(strstr(desk.error.text, "/nothing.csv: No such file or directory"));
    assert_int_equal(import_here(&desk, ""), -1); /* a folder without any of them */
    assert_non_null(strstr(desk.error.text, "accepted are a folder or"));
    close_desk(&desk);
}

static void import_path_wrong_columns_are_named(void **state)
{
    (void)state;
    expect_refused("supplies.csv", "supply,flow_l_min,valves\np,1,1\n",
                   "1: column valves: unknown, accepted are: supply name flow_l_min valves_at_once "
                   "daily_limit_l");
    expect_refused("supplies.csv", "supply,flow_l_min\np,1\n",
                   "1: column valves_at_once: missing, it is needed");
    expect_refused("supplies.csv", "supply,flow_l_min,valves_at_once,supply\np,1,1,p\n",
                   "1: column supply: given twice, accepted is once");
    expect_refused("supplies.csv", "supply,flow_l_min,valves_at_once,\np,1,1,\n",
                   "1: column (without a name): unknown");
    expect_refused("supplies.csv", "Supply,flow_l_min,valves_at_once\np,1,1\n",
                   "1: column Supply: unknown");
    expect_refused("supplies.csv", "supply;flow_l_min;valves_at_once\np;1;1\n",
                   "1: columns separated by semicolons");
}

static void import_path_bad_values_are_named_with_line_and_column(void **state)
{
    (void)state;
    expect_refused("supplies.csv", "supply,flow_l_min,valves_at_once\np,1,1\nq,\"1,5\",1\n",
                   "3: column flow_l_min: '1,5' given, accepted is a number above 0, at most "
                   "100000; write decimals with a point, not a comma");
    expect_refused("supplies.csv", "supply,flow_l_min,valves_at_once\np,1,5,1\n",
                   "2: 4 fields, the header has 3 (a decimal comma");
    expect_refused("supplies.csv", "supply,flow_l_min,valves_at_once\np,,1\n",
                   "2: column flow_l_min: empty, accepted is a number above 0");
    expect_refused("zones.csv", "zone,supply,method,flow_l_min,rate_mm_h\nb,well,overhead,6,1\n",
                   "2: column supply: 'well' given, accepted is an id of supplies.csv");
    expect_refused("blocks.csv",
                   "block,zone,pots,pot,mix,from,spacing_cm,canopy_cm,plant_height_m\n"
                   "a,bed,1,r3,bark,2026-03-01,28,21,0.3\n"
                   "b,bed,1,r4,bark,2026-03-01,28,21,0.3\n",
                   "3: column pot: 'r4' given, accepted is an id of pots.csv");
    expect_refused("weighings.csv", "block,at,capacity_kg,now_kg\nx,2026-03-01T06:00:00Z,3,2\n",
                   "2: column block: 'x' given, accepted is an id of blocks.csv");
}

static void import_path_repeated_records_are_refused(void **state)
{
    (void)state;
    expect_refused("supplies.csv", "supply,flow_l_min,valves_at_once\np,1,1\nq,1,1\np,2,1\n",
                   "4: the same record as in line 2, accepted is each once");
    expect_refused("windows.csv", "from,to\n04:00,05:00\n04:00,05:00\n",
                   "3: the same record as in line 2");
    expect_refused("weighings.csv",
                   "block,at,capacity_kg,now_kg\nlav,2026-03-01T06:00:00Z,3,2\n"
                   "lav,2026-03-01T07:00:00+01:00,3,2\n",
                   "3: the same record as in line 2");
    expect_refused("bench_tests.csv",
                   "mix,tested,vessel_height_cm,vessel_volume_ml,drained_ml,batch\n"
                   "bark,2026-02-21,12,1000,224,\nbark,2026-02-21,12,1000,225,\n",
                   "3: the same record as in line 2");
}

static void expect_bench_refused(const char *columns, const char *values, const char *wanted)
{
    char text[512];
    snprintf(text, sizeof text,
             "mix,tested,vessel_height_cm,vessel_volume_ml,%s\nbark,2026-02-21,12,1000,%s\n",
             columns, values);
    expect_refused("bench_tests.csv", text, wanted);
}

static void import_path_impossible_bench_tests_are_refused(void **state)
{
    (void)state;
    expect_bench_refused("drained_ml", "0", "2: column drained_ml: 0 given: let the vessel drain");
    expect_bench_refused("drained_ml", "1001",
                         "2: column drained_ml: 1001 given, accepted is at most the mix's volume "
                         "(1000 mL)");
    expect_bench_refused("drained_ml", "204 2.1 208",
                         "2: column drained_ml: 208 given beside 2.1, accepted are replicates "
                         "within a factor of two");
    expect_bench_refused("drained_ml", "900",
                         "2: column drained_ml: 90 % of the volume drained, accepted is at least "
                         "5 points below the total porosity (82 %)");
    expect_bench_refused("drained_ml,total_porosity_pct", "300,32",
                         "2: column drained_ml: 30 % of the volume drained, accepted is at least");
    expect_bench_refused("drained_ml,vessel_top_cm", "220,12",
                         "2: column vessel_bottom_cm: empty, but vessel_top_cm is given: both or "
                         "none");
    expect_bench_refused("drained_ml,vessel_top_cm,vessel_bottom_cm", "220,10,12",
                         "2: column vessel_bottom_cm: 12 given, accepted is at most vessel_top_cm "
                         "(10)");
    expect_bench_refused("drained_ml,settled_height_cm", "220,11",
                         "2: column settled_volume_ml: empty, but settled_height_cm is given");
    expect_bench_refused("drained_ml,settled_volume_ml,settled_height_cm", "220,1100,11",
                         "2: column settled_volume_ml: 1100 given, accepted is at most the "
                         "vessel's (1000)");
    expect_bench_refused("drained_ml,settled_volume_ml,settled_height_cm", "220,900,13",
                         "2: column settled_height_cm: 13 given, accepted is at most the vessel's "
                         "(12)");
    expect_bench_refused("drained_ml,mass_saturated_g", "220,900",
                         "2: column mass_dry_g: empty, but a wet mass is given");
    expect_bench_refused("drained_ml,mass_dry_g", "220,100",
                         "2: column mass_saturated_g: empty, but mass_dry_g is given");
    expect_bench_refused("drained_ml,mass_saturated_g,mass_dry_g", "220,90,100",
                         "2: column mass_dry_g: 100 g given beside 90 g");
    expect_bench_refused("drained_ml,mass_saturated_g,mass_drained_g,mass_dry_g", "220,700,800,100",
                         "2: column mass_saturated_g: 700 g given beside 800 g");
    expect_bench_refused("drained_ml,mass_saturated_g,mass_dry_g", "220,1300,100",
                         "2: column mass_saturated_g: '1300' given, which makes pores of 120 % of "
                         "the volume");
    expect_bench_refused("drained_ml,total_porosity_pct,mass_saturated_g,mass_dry_g",
                         "220,80,900,100", "2: column total_porosity_pct: given beside masses");
}

static void import_path_impossible_pots_are_refused(void **state)
{
    (void)state;
    const char *header = "pot,form,top_cm,bottom_cm,fill_height_cm,height_cm,volume_l\n";
    char text[256];
    snprintf(text, sizeof text, "%sp,round,15,18.8,16,,\n", header);
    expect_refused("pots.csv", text,
                   "2: column bottom_cm: 18.8 given, accepted is at most top_cm (15)");
    snprintf(text, sizeof text, "%sp,round,18,15,16,15,\n", header);
    expect_refused("pots.csv", text,
                   "2: column fill_height_cm: 16 given, accepted is at most height_cm (15)");
    snprintf(text, sizeof text, "%sp,round,18.8,14.6,16,,34\n", header);
    expect_refused("pots.csv", text, "2: column volume_l: 34 given, accepted is 0.566 to 6.22");
    snprintf(text, sizeof text, "%sp,round,18.8,14.6,16,,0.34\n", header);
    expect_refused("pots.csv", text, "2: column volume_l: 0.34 given, accepted is");
}

static void import_path_zones_without_what_their_method_needs_are_refused(void **state)
{
    (void)state;
    const char *header = "zone,supply,method,flow_l_min,rate_mm_h,du_low_quarter_pct,run_for,"
                         "emitters_per_pot,emitter_l_h,least_min,most_min_day\n";
    char text[512];
    snprintf(text, sizeof text, "%sz,pump,overhead,60,,,,,,,\n", header);
    expect_refused("zones.csv", text, "2: column rate_mm_h: empty, but method overhead needs it");
    snprintf(text, sizeof text, "%sz,pump,drip,60,,,,,2,,\n", header);
    expect_refused("zones.csv", text,
                   "2: column emitters_per_pot: empty, but method drip needs it");
    snprintf(text, sizeof text, "%sz,pump,spray,60,,,,1,,,\n", header);
    expect_refused("zones.csv", text, "2: column emitter_l_h: empty, but method spray needs it");
    snprintf(text, sizeof text, "%sz,pump,overhead,60,12,,low_half,,,,\n", header);
    expect_refused("zones.csv", text,
                   "2: column run_for: low_half given, accepted only with du_low_quarter_pct");
    snprintf(text, sizeof text, "%sz,pump,hand,18,,,,,,30,20\n", header);
    expect_refused("zones.csv", text,
                   "2: column least_min: 30 given, accepted is at most most_min_day (20)");
}

static void expect_block_refused(const char *columns, const char *values, const char *wanted)
{
    char text[512];
    snprintf(text, sizeof text, "block,zone,pot,from,plant_height_m,%s\nnew,bed,r3,2026-03-01,%s\n",
             columns, values);
    expect_refused("blocks.csv", text, wanted);
}

static void import_path_blocks_that_cannot_stand_are_refused(void **state)
{
    (void)state;
    expect_block_refused("pots,mix,spacing_cm,canopy_cm", "0.3,10,bark,28,90",
                         "2: column canopy_cm: 90 given, accepted is at most three times the "
                         "spacing (28 cm)");
    expect_block_refused("pots,mix,spacing_cm,canopy_cm", "8,10,bark,28,20",
                         "2: column plant_height_m: 8 given, accepted is at most 3.4 for a canopy "
                         "of 20 cm: in metres");
    expect_block_refused("pots,mix,spacing_cm,canopy_cm,refill_pct", "0.3,10,bark,28,20,51",
                         "2: column refill_pct: '51' given, accepted is a number above 0, at most "
                         "50");
    expect_block_refused("pots,mix,spacing_cm,canopy_cm,watered_in", "0.3,10,bark,28,20,yes",
                         "2: column watered_in: yes given, accepted only with potted yes");
    expect_block_refused("pots,mix,spacing_cm,canopy_cm", "0.3,10,bark,15,20",
                         "2: column spacing_cm: 15 x 15 cm given, accepted is room for a pot 18.8 "
                         "cm wide");
    expect_block_refused("pots,mix,spacing_cm,canopy_cm,batch", "0.3,10,bark,28,20,autumn",
                         "2: column batch: mix 'bark' batch 'autumn' given, accepted is one with a "
                         "bench test in bench_tests.csv");
    expect_block_refused("pots,mix,spacing_cm,canopy_cm,theta_low_pct", "0.3,10,bark,28,20,70",
                         "2: column theta_low_pct: pot 'r3' with mix 'bark' holds ");
}

static void import_path_triangular_setting_has_room(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    write_whole(&desk);
    /* rows 0.866 of the pot's width apart: round pots touching */
    scratch_write(&desk.scratch, "blocks.csv",
                  "block,zone,pots,pot,mix,from,spacing_cm,row_cm,canopy_cm,plant_height_m\n"
                  "lav,bed,1500,r3,bark,2026-03-01,18.8,16.3,21,0.3\n");
    import_good(&desk, "");
    close_desk(&desk);
}

static void import_path_events_out_of_order_are_refused(void **state)
{
    (void)state;
    expect_refused("runs.csv",
                   "key,zone,start,end,state\n"
                   "a,bed,2026-03-01T06:00:00Z,2026-03-01T06:00:00Z,reported\n",
                   "2: column end: '2026-03-01T06:00:00Z' given, accepted is after start, by 48 "
                   "hours at most");
    expect_refused("runs.csv",
                   "key,zone,start,end,state\n"
                   "a,bed,2026-03-01T06:00:00Z,2026-04-01T06:00:00Z,reported\n",
                   "2: column end:");
    expect_refused("runs.csv",
                   "key,zone,start,end,state\n"
                   "a,bed,2026-03-01T06:00:00Z,2026-03-01T07:00:00Z,assumed\n",
                   "2: column state: 'assumed' given, accepted is one of: reported metered "
                   "confirmed");
    /* ten times 60 L a minute, a minute at least */
    expect_refused("runs.csv",
                   "key,zone,start,end,litres,state\n"
                   "a,bed,2026-03-01T06:00:00Z,2026-03-01T07:00:00Z,36000,metered\n"
                   "b,bed,2026-03-01T07:00:00Z,2026-03-01T07:00:20Z,600,metered\n"
                   "c,bed,2026-03-01T08:00:00Z,2026-03-01T09:00:00Z,36001,metered\n",
                   "4: column litres: 36001 given, accepted is at most 36000: ten times what 60 L "
                   "a minute are in that time");
    expect_refused("gauge.csv", "from,to,rain_mm\n2026-03-01T06:00:00Z,2026-03-01T05:00:00Z,1\n",
                   "2: column to:");
    expect_refused("gauge.csv",
                   "from,to,rain_mm\n2026-03-01T06:00:00Z,2026-03-02T06:00:00Z,1\n"
                   "2026-03-02T05:00:00Z,2026-03-03T06:00:00Z,1\n",
                   "3: column from: '2026-03-02T05:00:00Z' to '2026-03-03T06:00:00Z' given, but "
                   "the reading from 2026-03-01T06:00:00Z to 2026-03-02T06:00:00Z overlaps");
    expect_refused("weighings.csv", "block,at,capacity_kg,now_kg\nlav,2026-03-01T06:00:00Z,3,3.1\n",
                   "2: column now_kg: 3.1 given, accepted is at most capacity_kg (3)");
    /* the 3 L pot of the whole nursery holds less than 2 L: 310 g typed as kilograms */
    expect_refused("weighings.csv",
                   "block,at,capacity_kg,now_kg\nlav,2026-03-01T06:00:00Z,3.4,0.31\n",
                   "2: column now_kg: 0.31 given, 3.09 kg below capacity_kg, accepted is at most "
                   "2.");
}

static void import_path_wishes_that_contradict_themselves_are_refused(void **state)
{
    (void)state;
    expect_refused("orders.csv",
                   "key,zone,block,at,minutes,litres\na,bed,lav,2026-06-01T11:00:00Z,,\n",
                   "2: column zone: given beside another place, accepted is one of zone and block");
    expect_refused("orders.csv", "key,at\na,2026-06-01T11:00:00Z\n",
                   "2: column zone: empty, as block, accepted is one of zone and block");
    expect_refused("orders.csv", "key,zone,at,minutes,litres\na,bed,2026-06-01T11:00:00Z,5,100\n",
                   "2: column litres: given beside minutes: one of the two, or neither");
    expect_refused("orders.csv", "key,zone,at\na,nowhere,2026-06-01T11:00:00Z\n",
                   "2: column zone: 'nowhere' given, accepted is an id of zones.csv");
    expect_refused("holds.csv", "key,kind,from\na,ban,2026-06-01T11:00:00Z\n",
                   "2: column allowed_pct: empty, but a ban needs it: what is still allowed");
    expect_refused("holds.csv", "key,kind,from,allowed_pct\na,skip,2026-06-01T11:00:00Z,50\n",
                   "2: column allowed_pct: given, accepted only with kind ban");
    expect_refused("holds.csv", "key,kind,zone,from\na,pump-out,bed,2026-06-01T11:00:00Z\n",
                   "2: column supply: empty, but a pump-out is of a supply, or of all of them");
    expect_refused("holds.csv",
                   "key,kind,from,to\na,skip,2026-06-01T11:00:00Z,2026-06-01T10:00:00Z\n",
                   "2: column to: '2026-06-01T10:00:00Z' given, accepted is after from, by 8880 "
                   "hours at most");
    expect_refused("requirements.csv",
                   "key,zone,from,to,minutes,purpose\n"
                   "a,bed,2026-06-01T11:00:00Z,2026-06-01T12:00:00Z,0,feed\n",
                   "2: column minutes: '0' given, accepted is a number above 0, at most 1440");
}

static void import_path_pot_events_without_their_figure_are_refused(void **state)
{
    (void)state;
    expect_refused("pot_events.csv", "block,on,event\nlav,2026-06-01,pruned\n",
                   "2: column canopy_cm: empty, but event pruned needs it");
    expect_refused("pot_events.csv", "block,on,event\nlav,2026-06-01,measured\n",
                   "2: column canopy_cm: empty, but event measured needs it");
    expect_refused("pot_events.csv", "block,on,event,pots\nlav,2026-06-01,spaced,4\n",
                   "2: column pots: '4' given, accepted only with event counted sold split");
    expect_refused("pot_events.csv", "block,on,event,pots,into\nlav,2026-06-01,split,4,lav\n",
                   "2: column into: 'lav' given, accepted is another block");
    expect_refused("pot_events.csv", "block,on,event\nlav,2026-06-01,moved\n",
                   "2: column zone: empty, but event moved needs it");
    expect_refused("blocks.csv",
                   "block,zone,pots,pot,mix,from,spacing_cm\n"
                   "x,bed,15,r3,bark,2026-03-01,28\n",
                   "2: column canopy_cm: empty, it is needed unless use_l_day or coefficient is "
                   "given");
    expect_refused("blocks.csv",
                   "block,zone,pots,pot,mix,from,spacing_cm,use_l_day\n"
                   "x,bed,15,r3,bark,2026-03-01,28,0.3\n",
                   "2: column use_et0_mm: empty, but use_l_day is given: both or none");
    expect_refused("blocks.csv",
                   "block,zone,pots,pot,mix,from,spacing_cm,coefficient\n"
                   "x,bed,15,r3,bark,2026-03-01,28,1.1\n",
                   "2: column coefficient_of: empty, but coefficient is given: both or none");
}

static void import_path_measurements_that_cannot_be_are_refused(void **state)
{
    (void)state;
    expect_refused("catch_cans.csv", "zone,on,catches_ml\nbed,2026-06-01,10 12 9\n",
                   "2: column catches_ml: '10 12 9' given, accepted are four cans or more, not "
                   "all empty");
    expect_refused("catch_cans.csv", "zone,on,catches_ml,minutes\nbed,2026-06-01,10 12 9 8,30\n",
                   "2: column can_cm2: empty, but minutes is given: both or none");
    expect_refused("drain_catches.csv",
                   "block,at,given_ml,drained_ml\nlav,2026-06-01T08:00:00Z,100,100\n",
                   "2: column drained_ml: 100 given, accepted is below given_ml (100)");
    expect_refused("touch_checks.csv", "block,at,place,feel\nlav,2026-06-01T08:00:00Z,both,moist\n",
                   "2: column feel: 'moist' given, accepted is one of: dry right wet");
}

static void import_path_weather_out_of_shape_is_refused(void **state)
{
    (void)state;
    const char *header = "month,tmax_c,tmin_c,dewpoint_c,wind_2m_m_s,clear_ratio,rain_mm,"
                         "wet_days\n";
    char text[512];
    struct desk desk;
    snprintf(text, sizeof text, "%s1,10,11,5,2,0.5,50,10\n", header);
    expect_refused("normals.csv", text,
                   "2: column tmin_c: 11 given, accepted is at most tmax_c (10)");
    snprintf(text, sizeof text, "%s1,10,1,11,2,0.5,50,10\n", header);
    expect_refused("normals.csv", text,
                   "2: column dewpoint_c: 11 given, accepted is at most tmax_c (10)");
    expect_refused("hours.csv", "time,rain_mm\n2026-03-01T06:30:00Z,1\n",
                   "2: column time: '2026-03-01T06:30:00Z' given, accepted is the start of a whole "
                   "hour UTC");
    expect_refused("hours.csv", "time,rain_mm\n2026-03-01T06:00:00Z,\n",
                   "2: a time without any reading, accepted is at least one");
    open_desk(&desk);
    snprintf(text, sizeof text, "%s1,10,1,5,2,0.5,50,10\n2,10,1,5,2,0.5,50,10\n", header);
    scratch_write(&desk.scratch, "normals.csv", text);
    assert_int_equal(import_here(&desk, "normals.csv"), -1);
    assert_string_equal(desk.error.text, "normals: 2 months given, accepted are all 12");
    expect_sql(&desk, "SELECT count(*) FROM normal", "0");
    close_desk(&desk);
}

/* A change to one record may break another: then it does not land either. */
static void import_path_changes_that_break_other_records_are_refused(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    write_whole(&desk);
    import_good(&desk, "");
    scratch_write(&desk.scratch, "pots.csv",
                  "pot,form,top_cm,bottom_cm,fill_height_cm\nr3,round,40,32,30\n");
    assert_int_equal(import_here(&desk, "pots.csv"), -1);
    assert_string_equal(desk.error.text,
                        "block 'lav' from 2026-03-01: spacing_cm: 28 x 28 cm given, accepted is "
                        "room for a pot 40 cm wide (centre to centre)");
    /* 70 % drained can be bark (82 % pores), not the sandy mix (73 %). */
    scratch_write(&desk.scratch, "bench_tests.csv",
                  "mix,batch,tested,vessel_height_cm,vessel_volume_ml,drained_ml\n"
                  "bark,coarse,2026-02-20,12,1000,700\n");
    import_good(&desk, "bench_tests.csv");
    scratch_write(&desk.scratch, "mixes.csv", "mix,class\nbark,bark-peat-sand\n");
    assert_int_equal(import_here(&desk, "mixes.csv"), -1);
    assert_string_equal(desk.error.text,
                        "mix 'bark' batch 'coarse': what was measured by 2026-02-20 "
                        "gives no curve for a mix of class bark-peat-sand");
    /* A later delivery without a name is not what the older pots were filled from. */
    scratch_write(&desk.scratch, "bench_tests.csv",
                  "mix,tested,vessel_height_cm,vessel_volume_ml,drained_ml\n"
                  "bark,2026-05-20,12,1000,700\n");
    import_good(&desk, "bench_tests.csv");
    scratch_write(&desk.scratch, "zones.csv",
                  "zone,supply,method,flow_l_min,rate_mm_h,lead_block\n"
                  "bed,pump,overhead,60,12,ros\n");
    assert_int_equal(import_here(&desk, "zones.csv"), -1);
    assert_string_equal(desk.error.text, "zone 'bed': lead_block: 'ros' given, accepted is a block "
                                         "of that zone");
    expect_sql(&desk, "SELECT class FROM mix", "bark-aged");
    expect_sql(&desk, "SELECT top_cm FROM pot", "18.8");
    /* Counted anew on the day, then sold; ended in the evening, whatever the order of the rows. */
    scratch_write(&desk.scratch, "pot_events.csv",
                  "block,on,event,pots\nlav,2026-04-01,sold,1500\nlav,2026-04-02,ended,\n"
                  "lav,2026-04-02,sold,300\nlav,2026-04-02,counted,300\n");
    import_good(&desk, "pot_events.csv");
    scratch_write(&desk.scratch, "pot_events.csv", "block,on,event,pots\nlav,2026-03-20,sold,1\n");
    assert_int_equal(import_here(&desk, "pot_events.csv"), -1);
    assert_string_equal(desk.error.text,
                        "block 'lav', sold on 2026-04-01: pots: 1500 given, accepted is at most "
                        "the 1499 that stand there then");
    scratch_write(&desk.scratch, "bench_tests.csv",
                  "mix,tested,vessel_height_cm,vessel_volume_ml,drained_ml\n"
                  "bark,2026-05-21,120,1000,200\n");
    assert_int_equal(import_here(&desk, "bench_tests.csv"), -1);
    assert_non_null(strstr(desk.error.text, "3.26 cm wide"));
    close_desk(&desk);
}

static void import_path_lead_block_may_come_in_the_same_folder(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    write_whole(&desk);
    scratch_write(&desk.scratch, "zones.csv",
                  "zone,supply,method,flow_l_min,rate_mm_h,lead_block\nbed,pump,overhead,60,12,"
                  "lav\n");
    import_good(&desk, "");
    expect_sql(&desk, "SELECT lead_block FROM zone", "lav");
    close_desk(&desk);
}

/* The last file is bad: not even the first lands. */
static void import_path_folder_with_one_bad_file_lands_nothing(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    char *before = dump(&desk);
    write_whole(&desk);
    scratch_write(&desk.scratch, "blocks.csv",
                  "block,zone,pots,pot,mix,from,spacing_cm,canopy_cm,plant_height_m\n"
                  "lav,bed,1500,r3,bark,2026-03-01,28,21,0.3\n"
                  "ros,bed,1500,r3,bark,2026-03-01,28,21,tall\n");
    assert_int_equal(import_here(&desk, ""), -1);
    assert_non_null(strstr(desk.error.text, "/blocks.csv:3: column plant_height_m: 'tall' given"));
    assert_string_equal(desk.report, "");
    char *after = dump(&desk);
    assert_string_equal(after, before);
    /* and the store is still good for a corrected one */
    write_whole(&desk);
    import_good(&desk, "");
    free(before);
    free(after);
    close_desk(&desk);
}

/* Killed in the middle: the child writes rows and dies without a commit. */
static void import_path_killed_half_way_lands_nothing(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    write_whole(&desk);
    import_good(&desk, "");
    char *before = dump(&desk);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct error error;
        char path[256];
        snprintf(path, sizeof path, "%s/s.sqlite", desk.scratch.folder);
        struct store *store = store_open(path, false, &error);
        struct kind_row row = {.kind = kind_of(KIND_SUPPLIES)};
        struct kind_fault fault;
        enum store_change change;
        bool good = store && store_begin(store, &error) == 0;
        for (int i = 0; good && i < 500; i++) {
            char id[16];
            snprintf(id, sizeof id, "well-%d", i);
            good = kind_parse(&row.kind->columns[0], id, &row.values[0], &fault) == 0 &&
                   kind_parse(&row.kind->columns[2], "10", &row.values[2], &fault) == 0 &&
                   kind_parse(&row.kind->columns[3], "1", &row.values[3], &fault) == 0 &&
                   store_put(store, &row, &change, &fault, &error) == 0;
        }
        if (good)
            raise(SIGKILL);
        _exit(1);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
    char *after = dump(&desk);
    assert_string_equal(after, before);
    import_good(&desk, ""); /* nothing stays locked */
    free(before);
    free(after);
    close_desk(&desk);
}

/* More than two years of hours. Every 30 hours sum to 0 + ... + 29 = 435, and half a degree each:
 * 666 x 435 + (0 + ... + 19) + 20000 / 2 = 299900. */
static void import_path_many_rows_keep_their_number(void **state)
{
    (void)state;
    struct desk desk;
    open_desk(&desk);
    FILE *file = fopen(scratch_path(&desk.scratch, "hours.csv"), "w");
    assert_non_null(file);
    fputs("time,temperature_c,rain_mm\n", file);
    for (int hour = 0; hour < 20000; hour++) {
        char time[CIVIL_TEXT];
        civil_format_rfc3339(1577836800 + (int64_t)hour * 3600, 0, time);
        fprintf(file, "%s,%d.5,0\n", time, hour % 30);
    }
    fclose(file);
    import_good(&desk, "hours.csv");
    assert_string_equal(desk.report, "hours.csv: 20000 rows, 20000 added, 0 changed\n");
    import_good(&desk, "hours.csv");
    assert_string_equal(desk.report, "hours.csv: 20000 rows, 0 added, 0 changed\n");
    expect_sql(&desk, "SELECT count(*) || ' ' || sum(temperature_c) FROM station_hour",
               "20000 299900.0");
    close_desk(&desk);
}

/* --- the audit record --------------------------------------------------------------------- */

struct lines {
    char text[8192];
};

static void take_line(void *context, const struct store_audit *line)
{
    struct lines *lines = context;
    size_t used = strlen(lines->text);
    snprintf(lines->text + used, sizeof lines->text - used, "%s %s %s %s -> %s\n", line->who,
             line->action, line->what, line->before ? line->before : "-",
             line->after ? line->after : "-");
}

/* The newest lines, each 'WHO ACTION WHAT BEFORE -> AFTER'. */
static void read_lines(struct desk *desk, int limit, struct lines *lines)
{
    lines->text[0] = '\0';
    assert_int_equal(store_audit_each(desk->store, limit, take_line, lines, &desk->error), 0);
}

static void import_path_notes_every_change_with_before_and_after(void **state)
{
    (void)state;
    struct desk desk;
    struct lines lines;
    open_desk(&desk);
    scratch_write(&desk.scratch, "supplies.csv",
                  "supply,flow_l_min,valves_at_once\npump,140,3\nwell,20,1\n");
    import_good(&desk, "supplies.csv");
    read_lines(&desk, 10, &lines);
    assert_non_null(strstr(lines.text, "command line add supplies/well - -> {\"supply\":\"well\""));
    assert_non_null(strstr(lines.text, "command line add supplies/pump - -> {\"supply\":\"pump\""));
    /* one changes, one stays, one comes */
    scratch_write(&desk.scratch, "supplies.csv",
                  "supply,flow_l_min,valves_at_once\npump,130,3\nwell,20,1\nmain,60,2\n");
    import_good(&desk, "supplies.csv");
    read_lines(&desk, 2, &lines);
    assert_non_null(strstr(lines.text, "add supplies/main - -> "));
    const char *change = strstr(lines.text, "change supplies/pump {");
    assert_non_null(change);
    const char *arrow = strstr(change, " -> ");
    assert_non_null(arrow);
    assert_true(strstr(change, "\"flow_l_min\":140") && strstr(change, "140") < arrow);
    assert_non_null(strstr(arrow, "\"flow_l_min\":130"));
    /* the same again is no change */
    struct lines again;
    import_good(&desk, "supplies.csv");
    read_lines(&desk, 2, &again);
    assert_string_equal(again.text, lines.text);
    /* what does not land is not noted either */
    scratch_write(&desk.scratch, "supplies.csv",
                  "supply,flow_l_min,valves_at_once\npump,99,3\nbad,-1,1\n");
    assert_int_equal(import_here(&desk, "supplies.csv"), -1);
    read_lines(&desk, 2, &again);
    assert_string_equal(again.text, lines.text);
    close_desk(&desk);
}

static void import_path_notes_windows_as_a_whole(void **state)
{
    (void)state;
    struct desk desk;
    struct lines lines;
    open_desk(&desk);
    scratch_write(&desk.scratch, "windows.csv",
                  "zone,from,to,days\n,04:00,08:00,\n,12:00,13:00,\n");
    import_good(&desk, "windows.csv");
    scratch_write(&desk.scratch, "windows.csv", "zone,from,to,days\n,05:00,08:00,\n");
    import_good(&desk, "windows.csv");
    read_lines(&desk, 1, &lines);
    assert_int_equal(strncmp(lines.text, "command line change windows [", 29), 0);
    const char *arrow = strstr(lines.text, " -> ");
    assert_true(strstr(lines.text, "04:00") && strstr(lines.text, "04:00") < arrow);
    assert_true(strstr(arrow, "05:00") && !strstr(arrow, "04:00"));
    close_desk(&desk);
}

static void import_path_notes_hours_by_their_file(void **state)
{
    (void)state;
    struct desk desk;
    struct lines lines;
    open_desk(&desk);
    scratch_write(&desk.scratch, "hours.csv",
                  "time,temperature_c,dewpoint_c,wind_10m_m_s,radiation_w_m2\n"
                  "2026-06-01T10:00:00Z,20,10,1,500\n2026-06-01T11:00:00Z,21,10,1,600\n");
    if (import_here(&desk, "hours.csv") != 0)
        fail_msg("%s", desk.error.text);
    read_lines(&desk, 5, &lines);
    assert_string_equal(lines.text,
                        "command line add hours - -> {\"rows\":2,\"added\":2,\"changed\":0}\n");
    close_desk(&desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(import_path_folder_lands_and_is_reported),
        cmocka_unit_test(import_path_demo_nursery_is_what_it_promises),
        cmocka_unit_test(import_path_demo_flows_agree_with_beds),
        cmocka_unit_test(import_path_demo_has_a_wet_pot_and_a_mixed_zone),
        cmocka_unit_test(import_path_handbook_examples_are_taken),
        cmocka_unit_test(import_path_changed_rows_replace),
        cmocka_unit_test(import_path_block_again_adds_or_replaces_a_state),
        cmocka_unit_test(import_path_windows_replace_those_of_their_zones),
        cmocka_unit_test(import_path_windows_again_in_another_order_stay),
        cmocka_unit_test(import_path_column_order_is_free),
        cmocka_unit_test(import_path_other_files_of_a_folder_are_named),
        cmocka_unit_test(import_path_names_that_say_nothing_are_refused),
        cmocka_unit_test(import_path_wrong_columns_are_named),
        cmocka_unit_test(import_path_bad_values_are_named_with_line_and_column),
        cmocka_unit_test(import_path_repeated_records_are_refused),
        cmocka_unit_test(import_path_impossible_bench_tests_are_refused),
        cmocka_unit_test(import_path_impossible_pots_are_refused),
        cmocka_unit_test(import_path_zones_without_what_their_method_needs_are_refused),
        cmocka_unit_test(import_path_blocks_that_cannot_stand_are_refused),
        cmocka_unit_test(import_path_triangular_setting_has_room),
        cmocka_unit_test(import_path_events_out_of_order_are_refused),
        cmocka_unit_test(import_path_wishes_that_contradict_themselves_are_refused),
        cmocka_unit_test(import_path_pot_events_without_their_figure_are_refused),
        cmocka_unit_test(import_path_measurements_that_cannot_be_are_refused),
        cmocka_unit_test(import_path_weather_out_of_shape_is_refused),
        cmocka_unit_test(import_path_changes_that_break_other_records_are_refused),
        cmocka_unit_test(import_path_lead_block_may_come_in_the_same_folder),
        cmocka_unit_test(import_path_folder_with_one_bad_file_lands_nothing),
        cmocka_unit_test(import_path_killed_half_way_lands_nothing),
        cmocka_unit_test(import_path_many_rows_keep_their_number),
        cmocka_unit_test(import_path_notes_every_change_with_before_and_after),
        cmocka_unit_test(import_path_notes_windows_as_a_whole),
        cmocka_unit_test(import_path_notes_hours_by_their_file),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
