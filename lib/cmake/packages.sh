# SPDX-License-Identifier: GPL-3.0-or-later
# Sourced by the scripts that set up a fresh Debian machine: installs what is missing.
#   need_packages PACKAGE ...

packages_build="cmake make gcc pkg-config libfftw3-dev libsndfile1-dev liberfa-dev libcfitsio-dev
    libcyaml-dev libyaml-dev"
packages_plot="gnuplot-nox"
packages_test="libcmocka-dev g++ python3 python3-numpy python3-scipy python3-astropy python3-erfa
    python3-soundfile python3-yaml clang libclang-rt-dev chromium chromium-driver python3-selenium"

need_packages() {
    missing=""
    for package in "$@"; do
        case $(dpkg-query -W -f='${Status}' "$package" 2>/dev/null) in
        *" installed") ;;
        *) missing="$missing $package" ;;
        esac
    done
    # Any gnuplot that draws PNG files will do.
    if command -v gnuplot >/dev/null 2>&1; then
        missing=$(echo "$missing" | sed 's/gnuplot-nox//')
    fi
    [ -n "$(echo "$missing" | tr -d ' ')" ] || return 0
    if [ "$(id -u)" = 0 ]; then
        as_root=""
    elif command -v sudo >/dev/null 2>&1 && sudo -n true 2>/dev/null; then
        as_root="sudo"
    elif command -v sudo >/dev/null 2>&1 && [ -t 0 ]; then
        as_root="sudo"
    else
        as_root=none
    fi
    if [ "$as_root" = none ] || ! command -v apt-get >/dev/null 2>&1; then
        echo "These Debian packages are missing and cannot be installed from here:" >&2
        echo "   $missing" >&2
        echo "Install them as root (apt-get install ...) and start again." >&2
        return 1
    fi
    echo "Installing:$missing"
    $as_root apt-get update -qq
    # shellcheck disable=SC2086
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
        $missing >/dev/null
}
