# Sourced by deploy/start and deploy/test: the machine's libraries and the Python environment in .venv.

say() { printf '%s\n' "$*"; }
stop_with() { printf '%s\n' "$*" >&2; exit 1; }

find_python() {
  local candidate
  for candidate in python3.11 python3; do
    if "$candidate" -c 'import sys; sys.exit(sys.version_info[:2] != (3, 11))' >/dev/null 2>&1; then
      command -v "$candidate"
      return
    fi
  done
}

has_library() { "$PYTHON" -c 'import ctypes, sys; ctypes.CDLL(sys.argv[1])' "$1" >/dev/null 2>&1; }

has_venv_module() { "$PYTHON" -c 'import ensurepip, venv' >/dev/null 2>&1; }

postgres_program() {
  local found
  if command -v "$1"; then return; fi
  found=$(ls -d /usr/lib/postgresql/*/bin/"$1" 2>/dev/null | sort -V | tail -n 1)
  [ -n "$found" ] && say "$found"
}

# Prints the Debian packages that this machine still lacks; $1 is start or test.
missing_packages() {
  if [ -z "$PYTHON" ]; then
    say python3 python3-venv
  elif ! has_venv_module; then
    say python3-venv
  fi
  if [ -n "$PYTHON" ]; then
    has_library libpango-1.0.so.0 || say libpango-1.0-0
    has_library libpangoft2-1.0.so.0 || say libpangoft2-1.0-0
    has_library libharfbuzz-subset.so.0 || say libharfbuzz-subset0
  else
    say libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0
  fi
  if [ "$1" = test ]; then
    command -v chromium-headless-shell >/dev/null || command -v chromium >/dev/null || say chromium-headless-shell
    command -v redis-server >/dev/null || say redis-server
    command -v pdftotext >/dev/null || say poppler-utils
    postgres_program initdb >/dev/null || say postgresql
  fi
}

ensure_packages() {
  local packages
  PYTHON=$(find_python)
  packages=$(missing_packages "$1" | tr '\n' ' ')
  if [ -n "$packages" ]; then
    if [ "$(id -u)" -ne 0 ] || ! command -v apt-get >/dev/null; then
      stop_with "These Debian packages are missing: $packages- install them as root with: apt-get install $packages"
    fi
    say "Installing from Debian: $packages"
    apt-get update -q >/dev/null
    # shellcheck disable=SC2086  # a list of names
    DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends $packages >/dev/null
    PYTHON=$(find_python)
  fi
  if [ -z "$PYTHON" ]; then
    stop_with "Python 3.11 is needed; Debian 12 has it as the package python3."
  fi
}

# Installs the lock file $1 into .venv; a stamp with the hash of the lock lets the next run pass at once.
ensure_venv() {
  local lock=$1 stamp=$ROOT/.venv/installed-$(basename "$1" .txt) wanted
  wanted=$(sha256sum <"$lock")
  if [ -x .venv/bin/python ] && [ "$(cat "$stamp" 2>/dev/null)" = "$wanted" ]; then return; fi
  say "Installing Python packages into .venv (a minute or two, once)"
  [ -x .venv/bin/python ] || "$PYTHON" -m venv .venv
  .venv/bin/python -c 'import pip' 2>/dev/null || .venv/bin/python -m ensurepip >/dev/null
  PIP_ROOT_USER_ACTION=ignore PIP_DISABLE_PIP_VERSION_CHECK=1 \
    .venv/bin/python -m pip install -qq --no-input --no-compile --require-hashes -r "$lock"
  say "$wanted" >"$stamp"
}

free_port() {
  .venv/bin/python -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])'
}
