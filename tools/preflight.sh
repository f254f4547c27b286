#!/bin/sh
# Names each missing thing that a build needs, and how to get it. Exit 1 when one is missing.
missing=0
say() { printf 'missing: %s\n   get it: %s\n' "$1" "$2" >&2; missing=1; }

PYTHON=${PYTHON:-python3}
if ! command -v "$PYTHON" >/dev/null 2>&1; then
    say "Python 3.11 or newer" "from your system's packages (Debian: apt-get install python3 python3-venv) or python.org"
elif ! "$PYTHON" -c 'import sys; sys.exit(sys.version_info < (3, 11))'; then
    say "Python 3.11 or newer ($("$PYTHON" --version 2>&1) is too old)" "install a newer one and say: make PYTHON=python3.12 ..."
elif ! "$PYTHON" -c 'import venv, ensurepip' >/dev/null 2>&1; then
    say "Python's venv module" "Debian: apt-get install python3-venv"
fi

need=$(sed -n 's/^rust-version = "\(.*\)"/\1/p' Cargo.toml)
if ! command -v rustc >/dev/null 2>&1 || ! command -v cargo >/dev/null 2>&1; then
    say "a Rust toolchain (rustc and cargo $need or newer)" "rustup from rust-lang.org, or your system's packages if new enough"
else
    have=$(rustc --version | sed 's/^rustc \([0-9]*\.[0-9]*\).*/\1/')
    if [ "$(printf '%s\n%s\n' "$need" "$have" | sort -t. -k1,1n -k2,2n | head -n 1)" != "$need" ]; then
        say "rustc $need or newer ($have is installed)" "rustup update stable"
    fi
fi

if ! command -v cc >/dev/null 2>&1 && ! command -v gcc >/dev/null 2>&1 && ! command -v clang >/dev/null 2>&1; then
    say "a C compiler (it links the Rust code)" "Debian: apt-get install gcc libc6-dev; macOS: xcode-select --install"
fi
exit $missing
