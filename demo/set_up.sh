# Sourced by demo/run and tests/run: finds Python, installs what the system lacks (saying so) and
# keeps a virtual environment in .venv. Sets $project and $python.

project=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
python=$project/.venv/bin/python
: "${HOME:=$(getent passwd "$(id -u)" 2>/dev/null | cut -d: -f6)}"
export HOME PATH=${PATH:-/usr/local/bin:/usr/bin:/bin}:/usr/sbin:/sbin

say() { printf 'set-up: %s\n' "$*" >&2; }
give_up() { say "$*"; exit 1; }

# as_root COMMAND...: run as root, by sudo where we are not; fails where neither works
as_root() {
  if [ "$(id -u)" = 0 ]; then "$@"
  elif command -v sudo >/dev/null && { [ -t 0 ] || sudo -n true 2>/dev/null; }; then sudo "$@"
  else return 1
  fi
}

# debian_packages NAME...: install with apt what is not there yet
debian_packages() {
  local missing=() name
  for name in "$@"; do
    dpkg-query -W -f '${Status}' "$name" 2>/dev/null | grep -q 'ok installed' || missing+=("$name")
  done
  [ ${#missing[@]} = 0 ] && return 0
  say "installing system packages with apt: ${missing[*]}"
  local apt=(env DEBIAN_FRONTEND=noninteractive apt-get -qq -y -o Dpkg::Use-Pty=0 --no-install-recommends install)
  as_root "${apt[@]}" "${missing[@]}" </dev/null >/dev/null 2>&1 && return 0
  as_root apt-get -qq update </dev/null >/dev/null 2>&1
  as_root "${apt[@]}" "${missing[@]}" </dev/null >&2 && return 0
  say "could not install them; as an administrator run: apt install ${missing[*]}"
  return 1
}

# good_python: the newest Python of 3.11 or later that can make environments
good_python() {
  local candidate
  for candidate in python3.13 python3.12 python3.11 python3; do
    if "$candidate" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
      command -v "$candidate"; return 0
    fi
  done
  return 1
}

system_packages() {
  case $(uname -s) in
    Linux)
      if command -v apt-get >/dev/null; then
        good_python >/dev/null || debian_packages python3 python3-venv || true
        # PortAudio carries the sound; without it practice goes on, unheard
        ldconfig -p 2>/dev/null | grep -q 'libportaudio\.so\.2' || debian_packages libportaudio2 || true
      fi ;;
    Darwin)
      if ! good_python >/dev/null; then
        command -v brew >/dev/null || give_up "Python 3.11 or later is needed: install it from python.org, then run this again"
        say "installing Python with Homebrew"; brew install python@3.12 >&2
      fi ;;
  esac
}

# environment [EXTRA]: a fresh .venv when there is none, and our packages whenever what is asked for
# changed. The demo takes the releases the tests pass with too: they are known to work together, and
# the two share one .venv.
environment() {
  local extra=${1:-} stamp found
  local asked_for=("$project/pyproject.toml" "$project/tests/constraints.txt")
  system_packages
  if ! "$python" -c '' 2>/dev/null; then
    found=$(good_python) || give_up "Python 3.11 or later with its venv module is needed; on Debian: apt install python3 python3-venv"
    say "making a virtual environment in $project/.venv with $found"
    "$found" -m venv --clear "$project/.venv" || give_up "could not make the virtual environment"
  fi
  stamp=$project/.venv/installed-${extra:-base}
  if ! cat "${asked_for[@]}" | cmp -s - "$stamp"; then
    say "installing Python packages (a minute or so the first time)"
    "$python" -m pip install --quiet --disable-pip-version-check -c "$project/tests/constraints.txt" \
      -e "$project${extra:+[$extra]}" >&2 \
      || give_up "pip could not install the packages; is there a network?"
    cat "${asked_for[@]}" >"$stamp"
  fi
}
