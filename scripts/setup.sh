#!/bin/sh
# Installs what the build needs and is missing: GDAL's headers, pkg-config, a C compiler and, for the checks, Python's
# venv module, Chromium, Node.js with npm, and Poppler's tools; for `make check`, cargo-deny.
# Usage: scripts/setup.sh build|test|check
set -eu

purpose=${1:-build}
gdal_wanted=3.6
deny_wanted=0.20.2
rust_wanted=$(sed -n 's/^rust-version = "\(.*\)"$/\1/p' Cargo.toml)

stop() {
    printf 'setup: %s\n' "$@" >&2
    exit 1
}

# True when version $1 is at least version $2.
at_least() {
    [ "$(printf '%s\n%s\n' "$2" "$1" | sort -V | head -n 1)" = "$2" ]
}

has() {
    command -v "$1" >/dev/null 2>&1
}

# `make` may call another interpreter; it must be able to make a virtual environment with pip in it.
python=${PYTHON:-python3}
has_venv() {
    has "$python" && "$python" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' 2>/dev/null
}

has cargo || stop "no Rust toolchain: cargo is not on the path" \
    "get Rust $rust_wanted or newer from https://www.rust-lang.org/tools/install, open a new shell and run this again"
rust_found=$(cargo --version | cut -d ' ' -f 2)
at_least "$rust_found" "$rust_wanted" || stop "cargo $rust_found is too old, Rust $rust_wanted or newer is needed" \
    "see https://www.rust-lang.org/tools/install"

missing=''
{ has cc && has make; } || missing="$missing build-essential"
has pkg-config || missing="$missing pkg-config"
{ has pkg-config && pkg-config --exists gdal; } || missing="$missing libgdal-dev"
if [ "$purpose" = test ]; then
    has_venv || missing="$missing python3 python3-venv"
    # The page and the sheets are looked at in a real browser.
    { has chromium || has chromium-browser || has google-chrome-stable; } || missing="$missing chromium fonts-dejavu-core"
    has node || missing="$missing nodejs"
    has npm || missing="$missing npm"
    has pdftotext || missing="$missing poppler-utils"
fi

if [ -n "$missing" ]; then
    has apt-get && has dpkg || stop "missing here; on Debian or Ubuntu these packages have it:$missing" \
        "this system has no apt-get: install a C compiler, make, pkg-config, the GDAL library ($gdal_wanted or newer)" \
        "with its headers and, for the tests, Python 3.11 or newer with venv; then run this again"
    as_root=''
    if [ "$(id -u)" -ne 0 ]; then
        has sudo || stop "to install:$missing" "that needs root, and there is no sudo: run this again as root"
        as_root=sudo
    fi
    echo "setup: installing the system packages$missing (apt-get${as_root:+, through $as_root})"
    $as_root apt-get update -q
    # The list is split into words on purpose.
    # shellcheck disable=SC2086
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $missing
fi

pkg-config --exists gdal || stop "pkg-config still does not find gdal: is PKG_CONFIG_PATH set to another place?"
gdal_found=$(pkg-config --modversion gdal)
at_least "$gdal_found" "$gdal_wanted" || stop "GDAL $gdal_found is too old, $gdal_wanted or newer is needed"
if [ "$purpose" = test ]; then
    has_venv || stop "$python cannot make a virtual environment: Python 3.11 or newer with venv and pip is needed" \
        "name another one: make test PYTHON=/usr/bin/python3"
fi

# Built from source once, into cargo's own folder of programs.
if [ "$purpose" = check ] && ! cargo deny --version >/dev/null 2>&1; then
    echo "setup: building cargo-deny $deny_wanted, which takes some minutes"
    # Its own speed does not matter: what takes time is to build it.
    cargo install --quiet --debug --locked --no-default-features --version "$deny_wanted" cargo-deny
fi
