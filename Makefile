# SPDX-License-Identifier: GPL-3.0-or-later
# neap: see README.md for what it does, DEVELOPERS.md for how the house is laid out.

CC       = cc
CXX      = c++
CFLAGS   = -O2
PREFIX   = /usr/local
B        = build/release
WARN     = -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wstrict-prototypes -Wmissing-prototypes
STRICT   =

# What the program is built with, and what its checks need besides (Debian package names). CaDiCaL is a C++ library.
BUILD_PACKAGES = gcc libc6-dev make libsqlite3-dev libcjson-dev libcsv-dev libglpk-dev libgsl-dev libutf8proc-dev libedit-dev libcadical-dev g++ \
                 libcairo2-dev libpango1.0-dev libqrencode-dev pkg-config fonts-liberation fonts-dejavu-core
CHECK_PACKAGES = clang libclang-rt-14-dev libcmocka-dev bats sqlite3 jq git python3-scipy python3-gsw \
                 python3-pexpect python3-icalendar python3-jsonschema glpk-utils qsopt-ex coinor-cbc minizinc flatzinc poppler-utils qpdf fonts-droid-fallback \
                 groff-base libreoffice-calc-nogui zsh fish

comma := ,

# SANITIZE=1: any target below with clang's sanitizers, in a build folder of its own. Two checks that the address sanitizer
# makes anyway are left out, because they take long to compile; what does not search is not optimized, for the same reason.
# It is the debug build: debug_assert proves what it is given.
LESS_SANITIZED = -fno-sanitize=null,object-size,vptr,function -fno-sanitize-recover=undefined -fno-omit-frame-pointer
ifdef SANITIZE
CC       = clang
CXX      = clang++
CFLAGS   = -O0 -g1 -DNEAP_DEBUG=1 -fsanitize=address,undefined $(LESS_SANITIZED)
B        = build/asan
endif

# Libraries of which the linker takes only what is used, where their archive is there: loading them whole at each start took
# longer than all else that a short command does.
archive  = $(or $(filter /%,$(shell $(CC) -print-file-name=lib$(1).a)),-l$(1))
LIBS    := $(foreach lib,sqlite3 csv gsl gslcblas utf8proc cadical stdc++,$(call archive,$(lib))) -static-libgcc -lcjson -lglpk -ledit -lm
CPPFLAGS = -D_POSIX_C_SOURCE=200809L -Iinclude -Isrc -I$(B)/gen
compile  = $(CC) -std=c11 $(CPPFLAGS) $(CFLAGS) $(OPTIMIZED) $(WARN) $(STRICT)

FLOORS   = base calc facility desk trend recipe schedule plan why week store exchange records print
lib_src  = $(wildcard $(FLOORS:%=src/%/*.c))
lib_cpp  = $(wildcard $(FLOORS:%=src/%/*.cpp))
cli_src  = $(wildcard src/cli/*.c)
unit_src = $(wildcard tests/unit/test_*.c)
lib_obj  = $(lib_src:%.c=$(B)/%.o) $(lib_cpp:%.cpp=$(B)/%.o)
cli_obj  = $(cli_src:%.c=$(B)/%.o)
unit_obj = $(unit_src:%.c=$(B)/%.o) $(B)/tests/unit/suites.o
suites   = $(unit_src:tests/unit/test_%.c=%)

# A test's own code is not optimized: compiling it takes longer than it runs. Under sanitizers only the floors that search are;
# a test's own arithmetic is not watched there, what it hands to the program is.
$(unit_obj): OPTIMIZED = -O0
ifdef SANITIZE
$(unit_obj): OPTIMIZED = -O0 -fno-sanitize=undefined
$(foreach floor,base calc trend recipe schedule,$(patsubst %.c,$(B)/%.o,$(wildcard src/$(floor)/*.c))): OPTIMIZED = -O2
endif

.DEFAULT_GOAL := all
.SECONDARY:
.DELETE_ON_ERROR:

all: $(B)/neap $(B)/neap-page ## build the program, and the one that draws its pages

$(B)/neap: $(cli_obj) $(B)/libneap.a
	$(compile) -o $@ $^ $(LIBS)

# Draws pages as PDF, in a program of its own: nothing else is linked with cairo and pango.
PAGE_PACKAGES = pangocairo cairo-pdf libqrencode
page_src = $(wildcard src/page/*.c)
page_obj = $(page_src:%.c=$(B)/%.o)
$(page_obj): CPPFLAGS += $(patsubst -I%,-isystem %,$(shell pkg-config --cflags $(PAGE_PACKAGES)))

$(B)/neap-page: $(page_obj) $(B)/libneap.a
	$(compile) -o $@ $^ $(shell pkg-config --libs $(PAGE_PACKAGES)) -lcjson -lutf8proc -lm

$(B)/libneap.a: $(lib_obj)
	rm -f $@ && ar rcs $@ $^

# EACH: what stands before each source (tests/lint.h).
$(lib_src:%.c=$(B)/%.o) $(cli_obj): CPPFLAGS += $(EACH)

$(B)/%.o: %.c
	@mkdir -p $(@D)
	$(compile) -MD -MP -c -o $@ $<

$(B)/%.o: %.cpp
	@mkdir -p $(@D)
	$(CXX) -std=c++11 $(CPPFLAGS) $(CFLAGS) -Wall -Wextra -Wpedantic $(STRICT) -MD -MP -c -o $@ $<

# Files that the program carries inside itself, as lists of bytes.
$(B)/gen/%.inc: src/store/%
	@mkdir -p $(@D)
	od -An -v -tu1 $< | sed 's/\([0-9][0-9]*\)/\1,/g; $$s/,$$//' > $@

$(B)/src/store/open.o: $(B)/gen/schema.sql.inc $(B)/gen/parts.sql.inc $(B)/gen/views.sql.inc

$(B)/gen/data.inc: $(wildcard data/stock/*.csv data/demo/*.csv data/demo/*/*.csv data/templates/*.csv)
	@mkdir -p $(@D)
	for f in $^; do \
	    echo "{\"$$f\", (const unsigned char[]){"; od -An -v -tu1 $$f | sed 's/\([0-9][0-9]*\)/\1,/g'; \
	    echo "}, $$(wc -c <$$f)},"; done > $@

$(B)/src/cli/data.o: $(B)/gen/data.inc

# The commands, in the order of the help: each row of a command tells its place. The folder: where a file goes, so does its row.
$(B)/gen/commands.inc: src/cli $(wildcard src/cli/cmd_*.c)
	@mkdir -p $(@D)
	awk '/^const struct command command_/ { name = substr($$4, 9); place = 999 } /^    [.]place = / { place = $$3 + 0 } \
	    /^};/ && name { print place, name; name = "" }' $(filter %.c,$^) | \
	    sort -n -k1,1 -k2,2 | sed 's/.* \(.*\)/COMMAND(\1)/' > $@

$(B)/src/cli/commands.o: $(B)/gen/commands.inc

# One program of all suites: linking each one took longer than compiling it.
$(B)/units: $(unit_obj) $(B)/libneap.a
	$(compile) -o $@ $^ -lcmocka $(LIBS)

$(B)/gen/suites.inc: $(unit_src)
	@mkdir -p $(@D)
	printf 'SUITE_ROW(%s)\n' $(suites) > $@

$(B)/tests/unit/suites.o: $(B)/gen/suites.inc

units: $(B)/units

bats: examples cli ## run the end-to-end tests of this build folder

EXAMPLES = README.md docs/tutorial.md docs/round.md docs/recipe.md

examples: $(B)/neap ## run the examples of tests/golden, README and docs
	@NEAP=$(abspath $(B)/neap) tests/golden.sh $(REWRITE)
	@for page in $(EXAMPLES); do NEAP=$(abspath $(B)/neap) tests/readme.sh $$page $(REWRITE) || exit 1; done
	@tests/figures.py $(REWRITE)

golden: REWRITE = rewrite
golden: examples ## rewrite what the examples print, and the counts in docs; read the diff before a commit

# TAGS='!plain': only what is worth the sanitizers' time in a check, see tests/cli/helper.bash.
cli: all
	@NEAP=$(abspath $(B)/neap) bats --formatter tap $(if $(TAGS),--filter-tags '$(TAGS)') tests/cli

# A cross-check's first argument is its program, if any: from the C file of its name, or of its name's first word, which
# several can share. 77: a solver is missing, which CI forbids.
cross_src = $(wildcard tests/cross/*.c)
$(B)/tests/cross/%.o: CPPFLAGS += -Itests/unit

cross: $(cross_src:tests/cross/%.c=$(B)/cross/%) ## put our questions to independent programs (LONG=--long: more of them)
	@for script in tests/cross/*.py; do \
	    name=$$(basename $$script .py); [ -f tests/cross/$$name.c ] || name=$${name%%_*}; \
	    program=; [ ! -f tests/cross/$$name.c ] || program=$(B)/cross/$$name; \
	    /usr/bin/python3 -B $$script $$program $(LONG) && echo "1 checks passed" && continue; \
	    [ $$? = 77 ] && [ -z "$$CI" ] || { echo "again: make cross B=$(B)"; exit 1; }; \
	done

faults: $(B)/neap $(B)/fault/powerloss ## fail writes, syncs, allocations and the power, one after another (LONG=--long: more of them)
	@/usr/bin/python3 -B tests/fault/faults.py $(if $(LONG),long,short) $(B)/neap
	@$(B)/fault/powerloss $(if $(LONG),100,1)

floors: all ## hold the house's order, and prove that a breach of each rule is caught
	@/usr/bin/python3 tests/floors.py $(B)
	@/usr/bin/python3 tests/floors.py $(B) prove

store-version: $(B)/neap ## keep the tables of a new store, which a test holds against those that a change makes
	@rm -f $(B)/kept.neap*; $(B)/neap --db $(B)/kept.neap start >/dev/null
	@sqlite3 $(B)/kept.neap "SELECT printf('PRAGMA user_version = %d;', user_version) FROM pragma_user_version" .schema >tests/store/schema.sql

unit: $(B)/units ## run the unit tests of this build folder, each suite in a process of its own
	@for suite in $(suites); do $(B)/units $$suite || { echo "again: make units B=$(B) && $(B)/units $$suite"; exit 1; }; done

# One quiet look for what is missing; apt-get (by sudo where not root) only when something is.
define install_packages
@missing=; for p in $(1); do dpkg-query -W -f='$${Status}' $$p 2>/dev/null | grep -q 'ok installed' || missing="$$missing $$p"; done; \
if [ -n "$$missing" ]; then \
  echo "missing:$$missing"; \
  if [ -t 0 ]; then \
    printf 'install them by apt-get? [Y/n] '; read answer; \
    case $$answer in [nN]*) echo "not installed; nothing was built"; exit 1 ;; esac; \
  fi; \
  if [ "$$(id -u)" = 0 ]; then as_root=; else as_root=sudo; fi; \
  $$as_root apt-get update && \
  $$as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends $$missing; \
fi
endef

build-packages: ## install what the program is built with, where missing
	$(call install_packages,$(BUILD_PACKAGES))

check-packages: ## install what the checks need besides, where missing
	$(call install_packages,$(BUILD_PACKAGES) $(CHECK_PACKAGES))

demo: build-packages ## set up, build, load the demo facility and print its morning sheet
	@$(MAKE) --no-print-directory -s all
	@rm -f build/demo.neap build/demo.neap-wal build/demo.neap-shm
	@$(B)/neap --db build/demo.neap start --demo
	@$(B)/neap --db build/demo.neap plan --yes
	@$(B)/neap --db build/demo.neap sheet

newcomer: deb ## a newcomer in a bare root: install, own tables by LibreOffice, sheet, log, report, removal (ROOT=: a root made before)
	$(if $(ROOT),,$(call install_packages,mmdebstrap))
	tests/newcomer.sh build/neap_*.deb $(ROOT)

schema: $(B)/neap ## rewrite docs/schema from what --json prints; read the diff before a commit
	@dir=$$(mktemp -d) && cd $$dir && NEAP=$(abspath $(B)/neap) /usr/bin/python3 -B $(CURDIR)/tests/cli/schema.py rewrite; rm -rf $$dir

demo-weeks: $(B)/neap ## live the demo's ten weeks again, and write data/demo/weeks
	/usr/bin/python3 -B tools/demo_weeks.py $(B)/neap

check: check-packages ## set up, build twice and pass all tests
	@tests/check.sh

soak: check-packages ## the long runs: a year of rounds, faults, larger instances, 25 times the random rounds; hours
	@$(MAKE) --no-print-directory -s all
	/usr/bin/python3 -B tests/soak/year.py $(B)/neap
	/usr/bin/python3 -B tests/soak/mishaps.py $(B)/neap
	/usr/bin/python3 -B tests/soak/bands.py $(B)/neap
	@$(MAKE) --no-print-directory -s all SANITIZE=1
	/usr/bin/python3 -B tests/soak/damage.py build/asan/neap
	@$(MAKE) --no-print-directory faults LONG=--long
	@$(MAKE) --no-print-directory -s newcomer
	@$(MAKE) --no-print-directory fuzz-long
	ROWS=200000 $(MAKE) --no-print-directory bats
	LEAKS=1 $(MAKE) --no-print-directory -s bats SANITIZE=1
	@$(MAKE) --no-print-directory cross LONG=--long
	@$(MAKE) --no-print-directory -s unit B=build/soak CFLAGS='$(CFLAGS) -DTRIALS_TIMES=25'

# -O0: so that each line and branch counts for itself.
coverage: check-packages ## which lines and branches the tests reach, per folder; a quarter of an hour
	@$(MAKE) --no-print-directory -s all units $(cross_src:tests/cross/%.c=build/coverage/cross/%) B=build/coverage EACH='-include tests/lint.h' CFLAGS='-O0 -g --coverage -DCOVERED -DARENA_BLOCK_LEAST=0 -DNEAP_DEBUG=1'
	@find build/coverage -name '*.gcda' -delete
	@/usr/bin/python3 -B tests/coverage.py build/coverage

mutants: check-packages ## change a line of the program 200 times, and see each noticed by a test; hours (after make coverage)
	@/usr/bin/python3 -B tests/mutants.py build/mutants build/coverage --jobs $$(nproc)

lint: all compile_commands.json ## ask clang-format, cppcheck, clang-tidy, gcc -fanalyzer and valgrind; a quarter of an hour on an idle machine
	$(call install_packages,clang-format cppcheck clang-tidy valgrind)
	@tests/lint.sh $(B)

bench: $(B)/bench/bench_order $(B)/bench/bench_inside $(B)/bench/bench_years all ## how fast, beside other programs, and the order's gaps to the bound; asserts nothing
	/usr/bin/python3 -B tests/bench/bench.py $(B)
	$(B)/bench/bench_order
	tests/bench/years.sh $(B)/neap $(B)/bench/bench_years

# What reads bytes from outside, given changed ones. In a check driver.c makes the changes, the same each time; FUZZER= libFuzzer's
# own engine, which learns from what it reaches.
FUZZ   = file words line store
FUZZER = $(B)/tests/fuzz/driver.o
$(B)/tests/fuzz/main.o: src/cli/main.c
	@mkdir -p $(@D)
	$(compile) -Dmain=neap_main -Wno-missing-prototypes -MD -MP -c -o $@ $<
$(B)/fuzz/%: $(B)/tests/fuzz/fuzz_%.o $(B)/tests/fuzz/main.o $(filter-out %/main.o,$(cli_obj)) $(B)/libneap.a $(filter %.o,$(FUZZER))
	@mkdir -p $(@D)
	$(compile) -o $@ $^ $(filter -%,$(FUZZER)) $(LIBS)

fuzz: $(FUZZ:%=$(B)/fuzz/%) ## give changed bytes to what reads files, words, command lines and stores (RUNS= how many)
	@for target in $(FUZZ); do runs=1000; [ $$target != store ] || runs=100; \
	    $(B)/fuzz/$$target $${RUNS:-$$runs} tests/fuzz/corpus/$$target/* || \
	    { echo "again: make fuzz B=$(B)"; exit 1; }; done

# Seconds would not be the same each time: so many runs, and one seed. What is found is written to the folder build/fuzz.
FUZZ_CFLAGS = -O1 -g1 -fsanitize=address,undefined,fuzzer-no-link $(LESS_SANITIZED)
fuzz-long: ## fuzz by libFuzzer, the libraries of the house instrumented (RUNS= how many); hours
	@$(MAKE) --no-print-directory -s B=build/fuzz CC=clang CXX=clang++ CFLAGS='$(FUZZ_CFLAGS)' FUZZER=-fsanitize=fuzzer $(FUZZ:%=build/fuzz/fuzz/%)
	@for target in $(FUZZ); do mkdir -p build/fuzz/corpus/$$target; \
	    build/fuzz/fuzz/$$target -runs=$(or $(RUNS),1000000) -seed=1 -max_len=4096 -print_final_stats=1 -artifact_prefix=build/fuzz/$$target- \
	        build/fuzz/corpus/$$target tests/fuzz/corpus/$$target || exit 1; done

# Programs of one file over the house's floors: cross-checks, the power that fails, benches.
singles = $(patsubst tests/%.c,$(B)/%,$(cross_src) tests/fault/powerloss.c $(wildcard tests/bench/*.c))
$(B)/bench/bench_inside: WRAPPED = $(addprefix -Wl$(comma)--wrap=,glp_simplex glp_load_matrix glp_scale_prob)
$(singles): $(B)/%: $(B)/tests/%.o $(B)/libneap.a
	@mkdir -p $(@D)
	$(compile) $(WRAPPED) -o $@ $^ $(LIBS)

singles: $(singles) # a check builds them all: what only a bench or a soak runs would be out of date otherwise, and nobody know

# The manual and the completions are printed by the program itself, from the rows of its commands.
COMMANDS = $$($(B)/neap --help | sed -n 's/^  \([a-z]*\)  .*/\1/p')
share    = $(DESTDIR)$(PREFIX)/share
installed = $(PREFIX)/bin/neap $(PREFIX)/bin/neap-page $(PREFIX)/share/neap $(PREFIX)/share/doc/neap \
            $(PREFIX)/share/man/man1/neap.1.gz $(PREFIX)/share/man/man1/neap-*.1.gz \
            $(PREFIX)/share/bash-completion/completions/neap $(PREFIX)/share/zsh/site-functions/_neap \
            $(PREFIX)/share/fish/vendor_completions.d/neap.fish

install: all ## put program, manual, completions, data and docs under PREFIX
	install -D -m 755 $(B)/neap $(DESTDIR)$(PREFIX)/bin/neap
	install -D -m 755 $(B)/neap-page $(DESTDIR)$(PREFIX)/bin/neap-page
	install -d $(share)/man/man1 $(share)/bash-completion/completions $(share)/zsh/site-functions \
	    $(share)/fish/vendor_completions.d $(share)/neap $(share)/doc/neap
	$(B)/neap help --man | gzip -9n >$(share)/man/man1/neap.1.gz
	for c in $(COMMANDS); do $(B)/neap help $$c --man | gzip -9n >$(share)/man/man1/neap-$$c.1.gz || exit 1; done
	$(B)/neap help --completion bash >$(share)/bash-completion/completions/neap
	$(B)/neap help --completion zsh >$(share)/zsh/site-functions/_neap
	$(B)/neap help --completion fish >$(share)/fish/vendor_completions.d/neap.fish
	for folder in stock demo demo/begun demo/weeks templates; do \
	    install -d $(share)/neap/$$folder && install -m 644 data/$$folder/*.csv $(share)/neap/$$folder || exit 1; done
	install -m 644 README.md CHANGELOG.md $(share)/doc/neap
	install -d $(share)/doc/neap/docs/schema && install -m 644 docs/*.md $(share)/doc/neap/docs
	install -m 644 docs/schema/*.json $(share)/doc/neap/docs/schema

uninstall: ## take away what install put under PREFIX; stores stay
	rm -rf $(addprefix $(DESTDIR),$(installed))

deb: all ## make a Debian package of it, build/neap_VERSION_ARCHITECTURE.deb
	tools/deb.sh build

format: ## lay the C out as .clang-format says
	clang-format -i $$(git ls-files '*.c' '*.h' '*.cpp')

help: ## list the targets
	@sed -n 's/^\([a-z-]*\):[^#]*## \(.*\)/\1|\2/p' Makefile | awk -F'|' '{ printf "  %-16s %s\n", $$1, $$2 }'

clean: ## remove all that was built
	rm -rf build

compile_commands.json: Makefile ## how each file is compiled, for editors and analysers
	@$(MAKE) --no-print-directory -Bn all units | sed 's/"/\\"/g' | awk -v top="$$PWD" '/ -c -o / { file = $$NF; \
	    printf "%s{\"directory\": \"%s\", \"command\": \"%s\", \"file\": \"%s\"}", n++ ? ",\n" : "[\n", top, $$0, file } \
	    END { print "\n]" }' >$@

-include $(wildcard $(shell find $(B) -name '*.d' 2>/dev/null))

.PHONY: all units singles faults fuzz fuzz-long floors store-version unit bats examples cli cross golden demo demo-weeks newcomer schema check coverage mutants lint bench soak install uninstall deb build-packages check-packages format help clean
