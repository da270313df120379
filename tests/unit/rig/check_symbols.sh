#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# check_symbols.sh ARCHIVE: passes if all it needs from outside is what a compiler may call for by itself, and if it
# does define the codec (an empty archive needs nothing either).
set -eu
needs=$(nm -u "$1" | awk '$1 == "U" { print $2 }' | sort -u)
alien=$(printf '%s\n' "$needs" | grep -vxE 'memcpy|memset|memmove|memcmp' | grep -v '^$' || true)
if [ -n "$alien" ]; then
  echo "$1 needs more than a freestanding compiler gives: $alien" >&2
  exit 1
fi
for name in wire_encode wire_decode; do
  nm --defined-only "$1" | grep -q " T $name\$" || { echo "$1 does not define $name" >&2; exit 1; }
done
