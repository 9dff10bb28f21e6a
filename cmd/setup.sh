#!/bin/sh
# setup.sh installs what rimcast needs beside Go: a C and C++ compiler,
# pkg-config, and GDAL's development files. It does nothing when they are
# there, and is quiet when all goes well.
#
# Exit status: 0 all is there; 1 something is missing and could not be
# installed, the last lines on standard error say what.
set -eu

packages='gcc g++ libc6-dev pkg-config libgdal-dev'

say() { printf 'setup: %s\n' "$*" >&2; }

# ready compiles, but does not link, a file that includes GDAL.
ready() {
	command -v gcc >/dev/null 2>&1 || return 1
	command -v g++ >/dev/null 2>&1 || return 1
	command -v pkg-config >/dev/null 2>&1 || return 1
	pkg-config --exists gdal || return 1
	# pkg-config prints several words on purpose.
	# shellcheck disable=SC2046
	printf '#include <stdlib.h>\n#include <gdal.h>\n' |
		gcc -fsyntax-only -x c $(pkg-config --cflags gdal) - >/dev/null 2>&1
}

explain() {
	say 'rimcast needs a C and C++ compiler, pkg-config and the development files of GDAL 3.0 or newer'
	say 'install them with the package manager of this system, then run this script again:'
	say '  Debian, Ubuntu:  apt-get install gcc g++ libc6-dev pkg-config libgdal-dev'
	say '  Fedora:          dnf install gcc gcc-c++ pkgconf-pkg-config gdal-devel'
	say '  Arch:            pacman -S gcc pkgconf gdal'
	say '  macOS, Homebrew: brew install pkg-config gdal'
}

# root runs a command as root, through sudo when that is needed and possible.
root() {
	if [ "$(id -u)" -eq 0 ]; then
		"$@"
	elif command -v sudo >/dev/null 2>&1; then
		sudo "$@"
	else
		say 'installing needs root: run this script as root, or install sudo'
		return 1
	fi
}

if ready; then
	exit 0
fi

if ! command -v apt-get >/dev/null 2>&1; then
	explain
	exit 1
fi

log=$(mktemp "${TMPDIR:-/tmp}/rimcast-setup.XXXXXX")
trap 'rm -f "$log"' EXIT

say "installing $packages"
# A failed update is not the end: the lists at hand may do.
root env DEBIAN_FRONTEND=noninteractive apt-get -qq update >"$log" 2>&1 || true
# The names are separate words on purpose.
# shellcheck disable=SC2086
if ! root env DEBIAN_FRONTEND=noninteractive apt-get -qq -y --no-install-recommends install $packages >>"$log" 2>&1; then
	tail -n 20 "$log" >&2
	say 'apt-get failed, see above'
	explain
	exit 1
fi

if ! ready; then
	say 'the packages are installed, but a C file that includes gdal.h still does not compile'
	explain
	exit 1
fi
