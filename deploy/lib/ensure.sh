# SPDX-License-Identifier: Apache-2.0
# Copyright The Steadyhand authors
#
# Sourced by deploy/demo and tests/run: brings a bare Debian 12 to where the project builds, and does nothing, quickly,
# where that is done already. Every function says on stderr what it does only when it does something, and leaves the
# user's own settings (npm registry, apt sources, proxies) alone.
# STEADYHAND_NO_INSTALL=1 installs nothing: what is missing is named, and the caller fails.

packages_build="gcc libc6-dev meson ninja-build pkg-config libwebsockets-dev libwebsockets-evlib-uv libuv1-dev
  libjansson-dev libsodium-dev libqrencode-dev nodejs npm"
packages_test="clang clang-format libclang-rt-14-dev libcriterion-dev chromium fonts-dejavu-core frama-c-base"

ensure_say() {
  printf '%s\n' "$*" >&2
}

# Names the packages of "$@" that are not there. A tool is there when its command is, whoever installed it; a library
# when Debian says so.
ensure_missing() {
  for ensure_p in "$@"; do
    case $ensure_p in
      nodejs) ensure_cmd=node ;;
      ninja-build) ensure_cmd=ninja ;;
      gcc | clang | clang-format | meson | npm | chromium | pkg-config) ensure_cmd=$ensure_p ;;
      *) ensure_cmd= ;;
    esac
    if [ -n "$ensure_cmd" ]; then
      command -v "$ensure_cmd" >/dev/null 2>&1 || printf '%s ' "$ensure_p"
    else
      [ "$(dpkg-query -W -f '${db:Status-Status}' "$ensure_p" 2>/dev/null)" = installed ] || printf '%s ' "$ensure_p"
    fi
  done
}

ensure_as_root() {
  if [ "$(id -u)" = 0 ]; then
    env DEBIAN_FRONTEND=noninteractive "$@"
  else
    sudo env DEBIAN_FRONTEND=noninteractive "$@"
  fi
}

# ensure_packages PACKAGE...: installs what is missing.
ensure_packages() {
  ensure_want=$(ensure_missing "$@")
  [ -n "$ensure_want" ] || return 0
  if ! command -v apt-get >/dev/null 2>&1 || [ "${STEADYHAND_NO_INSTALL:-0}" = 1 ]; then
    ensure_say "Missing Debian packages: $ensure_want"
    ensure_say "Install them (or your system's equivalents), then run this again."
    return 1
  fi
  if [ "$(id -u)" != 0 ] && ! command -v sudo >/dev/null 2>&1; then
    ensure_say "Missing Debian packages: $ensure_want"
    ensure_say "Run this as root, or install sudo, or install them yourself."
    return 1
  fi
  ensure_say "Installing: $ensure_want"
  ensure_log=$(mktemp)
  # shellcheck disable=SC2086 # a list of words
  if ! { ensure_as_root apt-get -q -o DPkg::Lock::Timeout=300 update &&
    ensure_as_root apt-get -q -y -o DPkg::Lock::Timeout=300 --no-install-recommends install $ensure_want; } \
    >"$ensure_log" 2>&1 </dev/null; then
    tail -n 15 "$ensure_log" >&2
    ensure_say "Could not install the packages; the whole log is in $ensure_log"
    return 1
  fi
  rm -f "$ensure_log"
}

# ensure_npm ROOT: node_modules as package-lock.json says, again only when that file has changed.
ensure_npm() {
  mkdir -p "$1/build"
  (
    flock 9
    ensure_stamp=$1/node_modules/.made-from
    ensure_sum=$(cksum <"$1/package-lock.json")
    [ -f "$ensure_stamp" ] && [ "$(cat "$ensure_stamp")" = "$ensure_sum" ] && exit 0
    ensure_say "Installing the npm packages of package-lock.json"
    if ! (cd "$1" && npm ci --ignore-scripts --no-audit --no-fund --loglevel=error) >"$1/build/npm.log" 2>&1 </dev/null; then
      tail -n 15 "$1/build/npm.log" >&2
      ensure_say "npm ci failed; the whole log is in $1/build/npm.log"
      exit 1
    fi
    printf '%s\n' "$ensure_sum" >"$ensure_stamp"
  ) 9>"$1/build/npm.lock"
}

# ensure_build ROOT DIR [MESON OPTION...]: sets the build folder up when it is new, its options have changed or it was
# set up elsewhere, and compiles. CC chooses the compiler, TARGETS what is built (everything where empty).
ensure_build() {
  ensure_root=$1 ensure_dir=$2
  shift 2
  mkdir -p "$ensure_dir"
  (
    flock 9
    ensure_sum="$ensure_root ${CC:-} $*"
    if [ ! -f "$ensure_dir/build.ninja" ] || [ "$(cat "$ensure_dir/made-from" 2>/dev/null)" != "$ensure_sum" ]; then
      rm -rf "$ensure_dir/meson-private" "$ensure_dir/meson-info" "$ensure_dir/build.ninja"
      if ! meson setup "$ensure_dir" "$ensure_root" "$@" >"$ensure_dir/setup.log" 2>&1 </dev/null; then
        tail -n 15 "$ensure_dir/setup.log" >&2
        ensure_say "meson setup failed; the whole log is in $ensure_dir/setup.log"
        exit 1
      fi
      printf '%s\n' "$ensure_sum" >"$ensure_dir/made-from"
    fi
    # shellcheck disable=SC2086 # a list of words
    if ! ninja -C "$ensure_dir" ${TARGETS:-} >"$ensure_dir/build.log" 2>&1 </dev/null; then
      grep -A 12 -E 'error:|warning:|undefined reference|FAILED' "$ensure_dir/build.log" | head -n 40 >&2
      ensure_say "The build failed; the whole log is in $ensure_dir/build.log"
      exit 1
    fi
  ) 9>"$ensure_dir/build.lock"
}

# ensure_web ROOT: the pages, bundled into web/dist.
ensure_web() {
  (cd "$1" && node web/build.mjs >"$1/build/web.log" 2>&1) || {
    tail -n 15 "$1/build/web.log" >&2
    ensure_say "Bundling the pages failed; the whole log is in $1/build/web.log"
    return 1
  }
}
