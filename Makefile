# The project's commands; `make help` lists them. They work from a fresh clone: what the machine lacks is
# installed where there is apt-get, and named where there is none.

.DEFAULT_GOAL := help
# A new installation of Rust is often not yet on the path, and Debian keeps PostgreSQL's server off it.
empty :=
space := $(empty) $(empty)
export PATH := $(PATH):$(HOME)/.cargo/bin:$(subst $(space),:,$(wildcard /usr/lib/postgresql/*/bin))

# The kills of imports, and of workers on each store, in `make soak`.
ROUNDS ?= 1000
# What the source build of PROJ needs, each as the command that must be there and the Debian package that has it.
BUILD_TOOLS := cmake:cmake g++:g++ sqlite3:sqlite3
# What only tests need: the OGC API client that they read the service with, the database server that they start, clocks that are wrong,
# a browser to read the map with, and Python for clients that are written in it.
TEST_TOOLS = chromium:chromium chromedriver:chromium-driver ogrinfo:gdal-bin initdb:postgresql $(POSTGIS):postgresql-postgis faketime:faketime python3:python3 $(VENV):python3-venv
# PostGIS has no command of its own; this file is there where it is.
POSTGIS = $(or $(firstword $(wildcard /usr/share/postgresql/*/extension/postgis.control)),postgis.control)
# Nor has this; without it Python makes no environments.
VENV = $(or $(firstword $(wildcard /usr/lib/python3*/ensurepip/__init__.py)),ensurepip)
# The clients that are written in Python, in an environment of their own.
CLIENTS := target/clients

.PHONY: help
help: ## List these commands
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "  make %-9s %s\n", $$1, $$2 }' Makefile

.PHONY: demo
demo: build-needs ## Build, load the invented sites into ./demo.db, and serve them on 127.0.0.1
	cargo build --release --locked -p api --bin stridebed
	target/release/stridebed demo

.PHONY: test
# The properties are tried on the same cases each time; `make soak` looks for new ones.
test: export PROPTEST_RNG_SEED ?= 1
test: test-needs ## Run every test
	cargo build --workspace --all-features --locked --bins
	cargo test --workspace --all-features --locked
	cargo run --quiet --locked -p tests --bin make-demo -- --check

.PHONY: lint
lint: build-needs ## Check formatting, lints and documentation; warnings are errors
	cargo fmt --all --check
	cargo clippy --workspace --all-features --all-targets --locked -- -D warnings
	RUSTDOCFLAGS=-Dwarnings cargo doc --workspace --all-features --no-deps --locked

.PHONY: bench
bench: test-needs ## Run the benchmarks
	cargo bench --workspace --all-features --locked --benches

.PHONY: eval
eval: build-needs ## Measure grouping, continuation and encounters on simulated surfaces
	cargo run --release --locked -p tests --bin stridebed-eval
	cargo run --release --locked -p tests --bin stridebed-eval-onward
	cargo run --release --locked -p tests --bin stridebed-eval-encounters

.PHONY: soak
soak: test-needs ## Try properties on new cases; kill the program, workers and databases ROUNDS times (1000) and look at what is left; send odd requests
	PROPTEST_CASES=$(ROUNDS)0 cargo test --locked -p spatial --all-features --lib -- laws_tests wishes_tests
	CRASH_ROUNDS=$(ROUNDS) cargo test --locked -p api --test crash -- --nocapture
	cargo build --workspace --all-features --locked --bins
	JOBS_KILLS=$(ROUNDS) cargo test --locked -p tests --all-features --test jobs_faults -- --nocapture
	FAULTS=$(ROUNDS) cargo test --locked -p tests --all-features --test faults -- --nocapture
	FUZZ=$(ROUNDS)00 cargo test --locked -p tests --all-features --test fuzz -- --nocapture
	SCHEMATHESIS=100 cargo test --locked -p tests --all-features --test clients -- --nocapture

.PHONY: fixtures
fixtures: build-needs ## Draw the demonstration data anew, after a change of its generator
	cargo run --locked -p tests --bin make-demo -- --out fixtures/demo

.PHONY: build-needs test-needs
build-needs: cargo-needed
	@$(call install_missing,$(BUILD_TOOLS))
test-needs: cargo-needed
	@$(call install_missing,$(BUILD_TOOLS) $(TEST_TOOLS))
	@$(MAKE) --no-print-directory $(CLIENTS)/made

$(CLIENTS)/made: tests/clients/needs.txt
	@echo "Installing clients to test with, into $(CLIENTS)" >&2
	@python3 -m venv --clear $(CLIENTS)
	@$(CLIENTS)/bin/python -m pip install --quiet --disable-pip-version-check -r tests/clients/needs.txt
	@touch $@

.PHONY: cargo-needed
cargo-needed:
	@wanted=$$(sed -n 's/^rust-version = "\(.*\)"/\1/p' Cargo.toml); \
	found=$$(cargo --version 2>/dev/null | cut -d ' ' -f 2); \
	oldest=$$(printf '%s\n' "$$wanted" "$${found:-0}" | sort -V | head -n 1); \
	if [ "$$oldest" != "$$wanted" ]; then \
		echo "Rust $$wanted or newer is needed, with cargo; found: $${found:-none}."; \
		echo "Install it with rustup (the stable toolchain), open a new shell, and type this again."; \
		exit 1; \
	fi >&2

# Installs the packages whose commands (or files) are missing, or says which they are. Quiet where nothing is missing.
define install_missing
missing=''; \
for tool in $(1); do \
	command -v "$${tool%%:*}" >/dev/null 2>&1 || [ -e "$${tool%%:*}" ] || missing="$$missing $${tool#*:}"; \
done; \
[ -n "$$missing" ] || exit 0; \
as_root=''; [ "$$(id -u)" -eq 0 ] || as_root=sudo; \
if command -v apt-get >/dev/null 2>&1 && { [ -z "$$as_root" ] || command -v sudo >/dev/null 2>&1; }; then \
	echo "Installing what is missing:$$missing"; \
	$$as_root apt-get update -qq && \
	$$as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $$missing; \
else \
	echo "Missing:$$missing (these are the names of Debian packages)."; \
	echo "Install them with this system's own package tool, as root, and type this again."; \
	exit 1; \
fi >&2
endef
