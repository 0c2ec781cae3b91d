/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench_server.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "bench_load.h"
#include "daemon/config.h"
#include "daemon/import.h"
#include "daemon/store.h"

#define DEMO PERCHD_SOURCE "/config/demo"

enum { PATH_SIZE = 256, A_ZONE = 10, PATIENCE_S = 60, ASK_AGAIN_US = 200 };

static void nap(unsigned us)
{
    const struct timespec t = {0, (long)us * 1000};
    nanosleep(&t, NULL);
}

static FILE *create(const char *path)
{
    FILE *f = fopen(path, "w");
    if (!f)
        load_die("%s: %s", path, strerror(errno));
    return f;
}

static FILE *create_in(const struct server *server, const char *name)
{
    char path[PATH_SIZE];
    snprintf(path, sizeof path, "%s/%s", server->folder, name);
    return create(path);
}

static void make_folder(struct server *server)
{
    *server = (struct server){.folder = "/tmp/perchd-bench-XXXXXX"};
    if (!mkdtemp(server->folder) || chmod(server->folder, 0755) != 0)
        load_die("%s: %s", server->folder, strerror(errno));
}

/* A port that nobody listens on just now. */
static int free_port(void)
{
    struct sockaddr_in address = {.sin_family = AF_INET};
    socklen_t size = sizeof address;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0 || bind(fd, (const struct sockaddr *)&address, size) != 0 ||
        getsockname(fd, (struct sockaddr *)&address, &size) != 0)
        load_die("no free port: %s", strerror(errno));
    close(fd);
    return ntohs(address.sin_port);
}

/* --- a nursery ------------------------------------------------------------------------------- */

static double between(uint64_t *state, double low, double high)
{
    *state = *state * 6364136223846793005u + 1442695040888963407u; /* Knuth's MMIX */
    return low + (high - low) * (double)(*state >> 11) * 0x1p-53;
}

static void write_zones(const struct server *server, size_t zones)
{
    FILE *f = create_in(server, "supplies.csv");
    fprintf(f, "supply,name,flow_l_min,valves_at_once,daily_limit_l\npump,Pump,%zu,%zu,\n",
            90 * zones, zones);
    fclose(f);
    f = create_in(server, "windows.csv");
    fprintf(f, "zone,from,to,days\n,03:00,09:00,\n");
    fclose(f);
    f = create_in(server, "zones.csv");
    fprintf(f, "zone,name,supply,method,flow_l_min,rate_mm_h,du_low_quarter_pct,pulses,"
               "most_min_day,priority,confirm\n");
    for (size_t z = 0; z < zones; z++)
        fprintf(f, "bed-%zu,Bed %zu,pump,overhead,90,14,75,1,150,3,assumed\n", z + 1, z + 1);
    fclose(f);
}

static void write_blocks(const struct server *server, size_t blocks)
{
    static const char *const plants[] = {"Lavender", "Choisya", "Rosemary", "Photinia", "Viburnum"};
    static const char *const pots[] = {"r2", "r3", "r10", "s9"};
    static const char *const mixes[] = {"bark-aged,spring", "bark-peat,", "peat-perlite,"};
    uint64_t state = 20260701;
    FILE *f = create_in(server, "blocks.csv");
    fprintf(f, "block,name,zone,pots,pot,mix,batch,from,potted,watered_in,spacing_cm,row_cm,"
               "canopy_cm,plant_height_m,stage\n");
    for (size_t b = 0; b < blocks; b++) {
        const char *plant = plants[(size_t)between(&state, 0, 5)];
        fprintf(f, "block-%zu,%s %zu,bed-%zu,%d,%s,%s,2025-03-01,no,no,%.1f,%.1f,%.1f,%.2f,%s\n",
                b + 1, plant, b + 1, b / A_ZONE + 1, (int)between(&state, 50, 2000),
                pots[(size_t)between(&state, 0, 4)], mixes[(size_t)between(&state, 0, 3)],
                between(&state, 25, 50), between(&state, 25, 50), between(&state, 8, 24),
                between(&state, 0.1, 0.6), b % 3 ? "growing" : "established");
    }
    fclose(f);
}

static void copy_example(const struct server *server, const char *name)
{
    char path[PATH_SIZE];
    char line[1024];
    snprintf(path, sizeof path, "%s/%s", DEMO, name);
    FILE *from = fopen(path, "r");
    if (!from)
        load_die("%s: %s", path, strerror(errno));
    FILE *to = create_in(server, name);
    while (fgets(line, sizeof line, from))
        fputs(line, to);
    fclose(from);
    fclose(to);
}

static void import_folder(const struct server *server, const char *folder)
{
    char path[PATH_SIZE];
    struct config config;
    struct error error;
    snprintf(path, sizeof path, "%s/perchd.conf", server->folder);
    if (config_load(path, &config, &error) != 0)
        load_die("%s", error.text);
    struct store *store = store_open(config.store_path, false, &error);
    if (!store || import_path(store, folder, NULL, &error) != 0)
        load_die("%s", error.text);
    store_close(store);
}

void server_nursery_make(struct server *server, size_t blocks)
{
    static const char *const shared[] = {"bench_tests.csv", "mixes.csv", "normals.csv", "pots.csv"};
    make_folder(server);
    server->port = free_port();
    FILE *f = create_in(server, "perchd.conf");
    fprintf(f,
            "[nursery]\nname = Bench nursery\ntime_zone = Europe/Lisbon\nlatitude_deg = 38.15\n"
            "longitude_deg = -8.45\nelevation_m = 90\n[serve]\nport = %d\n[store]\n"
            "path = records.sqlite\n[feed]\nsources = none\n",
            server->port);
    fclose(f);
    if (blocks == 0) {
        import_folder(server, DEMO);
        return;
    }
    for (size_t i = 0; i < sizeof shared / sizeof shared[0]; i++)
        copy_example(server, shared[i]);
    write_zones(server, (blocks + A_ZONE - 1) / A_ZONE);
    write_blocks(server, blocks);
    import_folder(server, server->folder);
}

/* --- nginx's part ---------------------------------------------------------------------------- */

void server_nginx_make(struct server *server)
{
    char path[PATH_SIZE];
    make_folder(server);
    server->port = free_port();
    snprintf(path, sizeof path, "%s/root", server->folder);
    mkdir(path, 0755);
    FILE *f = create_in(server, "nginx.conf");
    fprintf(f,
            "daemon off;\nworker_processes 1;\npid nginx.pid;\nerror_log error.log;\n%s"
            "events { worker_connections 2048; }\nhttp {\naccess_log off;\nsendfile on;\n"
            "tcp_nopush on;\nkeepalive_requests 1000000000;\nkeepalive_timeout 600;\n"
            "open_file_cache max=100 inactive=600s;\ngzip_static on;\n"
            "default_type application/json;\n",
            getuid() == 0 ? "user root;\n" : "");
    for (const char *const *kind =
             (const char *const[]){"client_body", "proxy", "fastcgi", "uwsgi", "scgi", NULL};
         *kind; kind++)
        fprintf(f, "%s_temp_path %s/%s;\n", *kind, server->folder, *kind);
    fprintf(f, "server { listen 127.0.0.1:%d backlog=1024; root %s/root; }\n}\n", server->port,
            server->folder);
    fclose(f);
}

void server_nginx_put(const struct server *server, const char *name, const char *ending,
                      const char *bytes, size_t length)
{
    char path[PATH_SIZE];
    size_t root = (size_t)snprintf(path, sizeof path, "%s/root", server->folder);
    snprintf(path + root, sizeof path - root, "%s%s", name, ending);
    for (char *slash = strchr(path + root + 1, '/'); slash; slash = strchr(slash + 1, '/')) {
        *slash = '\0';
        mkdir(path, 0755);
        *slash = '/';
    }
    FILE *f = create(path);
    if (fwrite(bytes, 1, length, f) != length || fclose(f) != 0)
        load_die("%s: %s", path, strerror(errno));
}

/* The worker: the only child. */
static pid_t child_of(pid_t pid)
{
    char path[64];
    int child = 0;
    snprintf(path, sizeof path, "/proc/%d/task/%d/children", (int)pid, (int)pid);
    FILE *f = fopen(path, "r");
    if (!f || fscanf(f, "%d", &child) != 1)
        load_die("%s: no child", path);
    fclose(f);
    return child;
}

/* --- starting and ending --------------------------------------------------------------------- */

/* words[3] may be NULL. */
static pid_t start(const struct server *server, const char *program, const char *const words[4])
{
    char log[PATH_SIZE];
    snprintf(log, sizeof log, "%s/log", server->folder);
    fflush(NULL);
    pid_t pid = fork();
    if (pid < 0)
        load_die("fork: %s", strerror(errno));
    if (pid > 0)
        return pid;
    prctl(PR_SET_PDEATHSIG, SIGTERM);
    int fd = open(log, O_WRONLY | O_CREAT | O_APPEND, 0644);
    dup2(fd, STDOUT_FILENO);
    dup2(fd, STDERR_FILENO);
    execl(program, program, words[0], words[1], words[2], words[3], (char *)NULL);
    _exit(127);
}

/* Until path is answered with 200; milliseconds. */
static double wait_for(const struct server *server, const char *path, double since_s)
{
    while (load_now_s() < since_s + PATIENCE_S) {
        int fd = load_dial(server->port);
        int status = fd < 0 ? 0 : load_get(fd, path, "", NULL, 0, NULL, NULL, NULL, 0);
        if (fd >= 0)
            close(fd);
        if (status == 200)
            return 1e3 * (load_now_s() - since_s);
        if (waitpid(server->started, NULL, WNOHANG) == server->started)
            break;
        nap(ASK_AGAIN_US);
    }
    load_die("%s on port %d: no answer, see %s/log", path, server->port, server->folder);
}

void server_perchd_start(struct server *server)
{
    char program[PATH_SIZE];
    char config[PATH_SIZE];
    const char *build = getenv("PERCHD_BUILD");
    snprintf(program, sizeof program, "%s/perchd", build ? build : "build");
    snprintf(config, sizeof config, "%s/perchd.conf", server->folder);
    const char *const words[4] = {"serve", "--config", config};
    double began_s = load_now_s();
    server->started = server->pid = start(server, program, words);
    server->start_ms = wait_for(server, "/healthz", began_s);
    server->first_ms = wait_for(server, "/api/v1/plan", began_s);
}

void server_nginx_start(struct server *server)
{
    char config[PATH_SIZE];
    char prefix[PATH_SIZE];
    snprintf(config, sizeof config, "%s/nginx.conf", server->folder);
    snprintf(prefix, sizeof prefix, "%s/", server->folder);
    const char *const words[4] = {"-p", prefix, "-c", config};
    server_nginx_put(server, "/healthz", "", "ok\n", 3);
    double began_s = load_now_s();
    server->started = start(server, "/usr/sbin/nginx", words);
    server->start_ms = server->first_ms = wait_for(server, "/healthz", began_s);
    server->pid = child_of(server->started);
}

void server_stop(struct server *server)
{
    kill(server->started, SIGTERM);
    if (waitpid(server->started, NULL, 0) != server->started)
        load_die("waiting: %s", strerror(errno));
}

void server_remove(struct server *server)
{
    char command[PATH_SIZE];
    snprintf(command, sizeof command, "rm -r %s", server->folder);
    if (system(command) != 0)
        load_die("%s was not removed", server->folder);
}

/* --- memory ---------------------------------------------------------------------------------- */

static double read_kb(pid_t pid, const char *file, const char *name)
{
    char path[64];
    char line[256];
    long kb = -1;
    snprintf(path, sizeof path, "/proc/%d/%s", (int)pid, file);
    FILE *f = fopen(path, "r");
    if (!f)
        load_die("%s: %s", path, strerror(errno));
    while (fgets(line, sizeof line, f))
        if (strncmp(line, name, strlen(name)) == 0)
            kb = strtol(line + strlen(name), NULL, 10);
    fclose(f);
    return (double)kb;
}

double server_resident_mb(const struct server *server)
{
    return read_kb(server->pid, "smaps_rollup", "Rss:") / 1024;
}

double server_peak_mb(const struct server *server)
{
    return read_kb(server->pid, "status", "VmHWM:") / 1024;
}
