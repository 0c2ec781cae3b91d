# SPDX-License-Identifier: GPL-3.0-or-later
# perchd: 'make demo' and 'make test' install what they need; everything is built below build/.
VERSION := 0.1.0
PREFIX  ?= /usr/local
DESTDIR ?=
ifeq ($(origin CC),default)
CC := gcc
endif
BUILD   ?= build
SAN     ?=

WARN := -Wall -Wextra -Wconversion -Wsign-conversion -Wshadow -Wstrict-prototypes \
        -Wmissing-prototypes -Wpointer-arith -Wcast-qual -Wwrite-strings -Wformat=2 -Wvla -Werror
# -ffp-contract=off: the same figures on every machine of one kind.
CFLAGS ?= -O2 -g
HARDEN := -D_FORTIFY_SOURCE=2 -fstack-protector-strong -fPIE
ALL_CFLAGS := -std=c11 $(CFLAGS) $(if $(SAN),-fno-omit-frame-pointer $(SAN),$(HARDEN)) \
              -ffp-contract=off $(WARN) -D_GNU_SOURCE -DPERCHD_VERSION='"$(VERSION)"' \
              -DPERCHD_PREFIX='"$(PREFIX)"' -DPERCHD_SOURCE='"$(CURDIR)"' -I. -MMD -MP
LDFLAGS ?=
ALL_LDFLAGS := $(LDFLAGS) $(if $(SAN),$(SAN),-pie -Wl,-z,relro,-z,now)

CORE_OBJ   := $(patsubst %.c,$(BUILD)/%.o,$(wildcard core/*.c))
FETCH_OBJ  := $(patsubst %.c,$(BUILD)/%.o,$(wildcard daemon/fetch*.c))
MAIN_OBJ   := $(BUILD)/daemon/main.o
DAEMON_OBJ := $(filter-out $(FETCH_OBJ) $(MAIN_OBJ),$(patsubst %.c,$(BUILD)/%.o,$(wildcard daemon/*.c)))
CORE_LIB   := $(BUILD)/libperchd-core.a
DAEMON_LIB := $(BUILD)/libperchd-daemon.a
# Only perchd-fetch links libcurl.
LIBS       := -lmicrohttpd -lgnutls -lsqlite3 -ljansson -linih -lsystemd -ldeflate -lcrypt -lgsl -lgslcblas -lm -lpthread
FETCH_LIBS := -lcurl -ljansson -lm
PROGRAMS   := $(BUILD)/perchd $(if $(FETCH_OBJ),$(BUILD)/perchd-fetch)

TEST_SRC   := $(wildcard tests/test_*.c)
TEST_BIN   := $(patsubst tests/%.c,$(BUILD)/tests/%,$(TEST_SRC))
TEST_SUPPORT := $(patsubst %.c,$(BUILD)/%.o,$(filter-out $(TEST_SRC) $(wildcard tests/bench_*.c tests/fuzz_*.c tests/preload_*.c) tests/controller.c,$(wildcard tests/*.c)))
# A controller for the tests of a simulated day, and the clock that it runs by.
TEST_PROGRAMS := $(BUILD)/tests/controller $(BUILD)/tests/preload_clock.so

BUILD_PACKAGES := gcc make libc6-dev libmicrohttpd-dev libgnutls28-dev libsqlite3-dev \
    libcurl4-openssl-dev libjansson-dev libgsl-dev libinih-dev libsystemd-dev libdeflate-dev \
    libcrypt-dev tzdata ca-certificates
TEST_PACKAGES := $(BUILD_PACKAGES) libcmocka-dev zlib1g-dev clang clang-tidy clang-format libclang-rt-14-dev \
    valgrind shellcheck curl openssl sqlite3 nodejs:node npm:npm chromium git

.PHONY: all demo test check check-all tsan check-web check-api bench lint deps deps-test deps-bench install clean test-fresh tests-built asan \
    valgrind deb fuzz fuzz-run
all: $(PROGRAMS)

# One line a file; 'make V=1' shows the whole commands.
SAY = $(if $(V),,@echo "  $(1) $@" &&)
.SECONDARY:
$(BUILD)/%.o: %.c Makefile
	@mkdir -p $(@D)
	$(call SAY,CC) $(CC) $(ALL_CFLAGS) -c -o $@ $<
$(CORE_LIB): $(CORE_OBJ)
	$(call SAY,AR) rm -f $@ && ar rcs $@ $^
$(DAEMON_LIB): $(DAEMON_OBJ)
	$(call SAY,AR) rm -f $@ && ar rcs $@ $^
$(BUILD)/perchd: $(MAIN_OBJ) $(DAEMON_LIB) $(CORE_LIB)
	$(call SAY,LD) $(CC) $(ALL_LDFLAGS) -o $@ $^ $(LIBS)
$(BUILD)/perchd-fetch: $(FETCH_OBJ) $(DAEMON_LIB) $(CORE_LIB)
	$(call SAY,LD) $(CC) $(ALL_LDFLAGS) -o $@ $^ $(FETCH_LIBS)
$(BUILD)/tests/test_%: $(BUILD)/tests/test_%.o $(TEST_SUPPORT) $(DAEMON_LIB) $(CORE_LIB)
	$(call SAY,LD) $(CC) $(ALL_LDFLAGS) -o $@ $^ -lcmocka $(LIBS) -lz

$(BUILD)/tests/controller: $(BUILD)/tests/controller.o
	$(call SAY,LD) $(CC) $(ALL_LDFLAGS) -o $@ $^ -lcurl -ljansson
$(BUILD)/tests/preload_clock.so: tests/preload_clock.c Makefile
	@mkdir -p $(@D)
	$(call SAY,CC) $(CC) -std=c11 -O2 -g $(WARN) -D_GNU_SOURCE -fPIC -shared -o $@ $<

tests-built: $(TEST_BIN) $(TEST_PROGRAMS) $(BUILD)/tests/bench_core $(BUILD)/tests/bench_http
-include $(shell find $(BUILD) -name '*.d' 2>/dev/null)

deps:
	@sh packaging/deps.sh $(BUILD_PACKAGES)
deps-test:
	@sh packaging/deps.sh $(TEST_PACKAGES)

demo: deps
	@$(MAKE) --no-print-directory all
	$(BUILD)/perchd demo $(if $(DEMO_PORT),--port $(DEMO_PORT)) $(if $(DEMO_SECONDS),--seconds $(DEMO_SECONDS))

# Unit and loopback tests of one build; under a minute. Five programs that talk longest over
# loopback are left to check-all.
LONG_TESTS := test_abuse test_day test_due test_fetch_feeds test_tls
check: all tests-built
	@sh tests/run.sh $(BUILD) $(filter-out $(LONG_TESTS), $(patsubst tests/%.c,%,$(TEST_SRC)))
check-all: all tests-built
	@sh tests/run.sh $(BUILD)

# By the other compiler, and so that the fuzz targets need nothing built anew.
ASAN := BUILD=build/asan CC=clang CFLAGS='-O1 -g' \
    SAN='-fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=all'
asan:
	@$(MAKE) --no-print-directory check-all $(ASAN)

# The page: its modules under node, then in Debian's own chromium against the daemon.
check-web: $(PROGRAMS)
	@sh tests/web.sh $(BUILD)

# The API's tests once more, every answer held against the OpenAPI document.
check-api: $(PROGRAMS) $(BUILD)/tests/test_api $(BUILD)/tests/test_day $(BUILD)/tests/test_sheet_days $(TEST_PROGRAMS)
	@sh tests/openapi.sh $(BUILD)

# The programs that allocate most; all of them would take long.
VALGRIND_TESTS := $(filter $(patsubst tests/%.c,%,$(TEST_SRC)), test_bench_set test_config \
    test_csv test_import test_store test_command test_snapshot test_feed_met test_feed test_serve)
valgrind: all tests-built
	@RUN='valgrind -q --error-exitcode=99 --leak-check=full --errors-for-leak-kinds=definite' \
	  sh tests/run.sh $(BUILD) $(VALGRIND_TESTS)

# Sanitizers hide value ranges from gcc, which then sees truncation where there is none.
# What threads share: the snapshot, the server under publishing, the planner's thread.
TSAN_TESTS := test_snapshot test_worker test_http test_api test_serve test_reach test_tls test_due test_preview
tsan:
	@$(MAKE) --no-print-directory all $(TSAN_TESTS:%=build/tsan/tests/%) build/tsan/tests/preload_clock.so BUILD=build/tsan \
	  SAN=-fsanitize=thread CFLAGS='-O1 -g -Wno-format-truncation'
	@TSAN_OPTIONS=halt_on_error=1 sh tests/run.sh build/tsan $(TSAN_TESTS)

test: deps-test
	@FUZZ_SECONDS=5 sh tests/all.sh check asan tsan valgrind fuzz check-web check-api lint

# Costs as multiples of something measured in the same run; prints, judges nothing. nginx is the
# yardstick of what is served.
BENCH_PACKAGES := $(BUILD_PACKAGES) nginx-light nodejs:node npm:npm chromium
deps-bench:
	@sh packaging/deps.sh $(BENCH_PACKAGES)
bench: deps-bench
	@$(MAKE) --no-print-directory $(PROGRAMS) $(BUILD)/tests/bench_core $(BUILD)/tests/bench_http
	@$(BUILD)/tests/bench_core
	@PERCHD_BUILD=$(BUILD) $(BUILD)/tests/bench_http
	@cd tests && npm ci --loglevel=error --no-audit --no-fund >/dev/null
	@PERCHD_BUILD=$(BUILD) node tests/bench_page.mjs
$(BUILD)/tests/bench_http: $(addprefix $(BUILD)/tests/bench_, http.o load.o server.o) $(DAEMON_LIB) $(CORE_LIB)
	$(call SAY,LD) $(CC) $(ALL_LDFLAGS) -o $@ $^ $(LIBS)
# A season of the example nursery by plans and by a timer: litres, drainage, stress.
season: $(BUILD)/tests/bench_season
	@$<
$(BUILD)/tests/bench_%: $(BUILD)/tests/bench_%.o $(DAEMON_LIB) $(CORE_LIB)
	$(call SAY,LD) $(CC) $(ALL_LDFLAGS) -o $@ $^ $(LIBS)

# Feeds each target of tests/fuzz_*.c odd bytes for FUZZ_SECONDS; 'make check' plays the seeds.
FUZZ_SECONDS ?= 30
FUZZ_BIN := $(patsubst %.c,$(BUILD)/%,$(wildcard tests/fuzz_*.c))
fuzz:
	@$(MAKE) --no-print-directory fuzz-run $(ASAN)
fuzz-run: $(FUZZ_BIN)
	@for program in $(FUZZ_BIN); do \
	  name=$${program##*/fuzz_}; mkdir -p $(BUILD)/corpus/$$name; \
	  echo "fuzz: $$name"; \
	  $$program -max_total_time=$(FUZZ_SECONDS) -timeout=60 -max_len=20000 -print_final_stats=1 -verbosity=0 \
	    -artifact_prefix=$(BUILD)/found-$$name- $(BUILD)/corpus/$$name tests/seeds/$$name || exit 1; \
	done
	@echo '$(words $(FUZZ_BIN)) passed, 0 failed'
$(BUILD)/tests/fuzz_%: $(BUILD)/tests/fuzz_%.o $(DAEMON_LIB) $(CORE_LIB)
	$(call SAY,LD) $(CC) $(ALL_LDFLAGS) -fsanitize=fuzzer -o $@ $^ $(LIBS)

lint: $(CORE_LIB)
	@sh tests/lint.sh $(CORE_LIB)

# Both commands of the README in a bare Debian 12; needs root and mounts.
test-fresh:
	@[ "$$(id -u)" != 0 ] || sh packaging/deps.sh debootstrap
	@sh tests/fresh.sh

deb:
	@sh packaging/deb.sh

# An installed perchd finds its files from where it lies itself, so PREFIX may differ from the build's.
SHARE := $(DESTDIR)$(PREFIX)/share
# Debian 12's packaging tools look for units in /lib only.
UNITS ?= $(patsubst /usr,,$(PREFIX))/lib/systemd/system
install: all
	install -d $(DESTDIR)$(PREFIX)/bin $(SHARE)/perchd/demo $(SHARE)/man/man1 $(SHARE)/man/man5 \
	  $(DESTDIR)$(UNITS) $(DESTDIR)$(PREFIX)/lib/sysusers.d
	install -m 755 $(PROGRAMS) $(DESTDIR)$(PREFIX)/bin
	cd web && find . -type f ! -name package.json -exec install -D -m 644 {} $(SHARE)/perchd/web/{} \;
	install -m 644 config/perchd.conf docs/openapi.json $(SHARE)/perchd
	install -m 644 config/demo/* $(SHARE)/perchd/demo
	install -m 644 docs/man/*.1 $(SHARE)/man/man1
	install -m 644 docs/man/*.5 $(SHARE)/man/man5
	sed 's|@BINDIR@|$(PREFIX)/bin|' packaging/systemd/perchd.service >$(DESTDIR)$(UNITS)/perchd.service
	chmod 644 $(DESTDIR)$(UNITS)/perchd.service
	install -m 644 packaging/systemd/perchd.sysusers $(DESTDIR)$(PREFIX)/lib/sysusers.d/perchd.conf

clean:
	rm -rf build
