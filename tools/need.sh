# SPDX-License-Identifier: GPL-3.0-or-later
# Sourced by ./run and ./check: the Debian packages each needs, and installing what is missing.

BUILD_PACKAGES="build-essential cmake ninja-build pkg-config libjansson-dev zlib1g-dev libzip-dev
libxml2-dev libcairo2-dev libpango1.0-dev libqpdf-dev libcmocka-dev fonts-dejavu-core fonts-noto-core
fonts-wqy-microhei libsqlite3-dev libpq-dev libsodium-dev libmicrohttpd-dev libgnutls28-dev libseccomp-dev r-mathlib libnlopt-dev
libsuitesparse-dev libopenblas-pthread-dev libpng-dev libturbojpeg0-dev libtiff-dev libopenjp2-7-dev libcharls-dev"
PAGE_PACKAGES="nodejs npm"
CHECK_PACKAGES="python3 clang-14 libclang-rt-14-dev clang-format-14 admesh libgts-bin slic3r poppler-utils qpdf
libxml2-utils libassimp-dev dcmtk libopenjp2-tools calculix-ccx git locales python3-icalendar postgresql-15 r-base-core r-cran-survival chromium
nodejs npm"

# Programs that may have come from elsewhere than Debian, and do then.
comes_otherwise() {
    case $1 in
    nodejs) command -v node ;;
    npm | chromium) command -v "$1" ;;
    *) false ;;
    esac >/dev/null
}

need_packages() {
    local missing="" package
    for package in "$@"; do
        comes_otherwise "$package" && continue
        dpkg-query -W -f='${db:Status-Status}' "$package" 2>/dev/null | grep -q '^installed$' ||
            missing="$missing $package"
    done
    [ -z "$missing" ] && return 0
    echo "installing:$missing"
    local as_root=""
    [ "$(id -u)" = 0 ] || as_root="sudo"
    export DEBIAN_FRONTEND=noninteractive
    $as_root apt-get update -qq &&
        $as_root apt-get install -y -qq --no-install-recommends $missing >/dev/null || {
        echo "these packages could not be installed:$missing" >&2
        echo "install them by hand (they are Debian 12's), then run this again" >&2
        return 1
    }
}

# Configures and builds a preset: build_preset NAME [TARGET...]. Output only where it fails.
build_preset() {
    local preset=$1 log
    shift
    mkdir -p build
    log=build/$preset.log
    if ! cmake --preset "$preset" >"$log" 2>&1 || ! ninja -C "build/$preset" "$@" >>"$log" 2>&1; then
        tail -n 40 "$log" >&2
        echo "the build '$preset' failed; all of it is in $log" >&2
        return 1
    fi
}
