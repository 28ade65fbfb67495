#!/usr/bin/env bash
# A private sound server for a machine without a sound card.
#
#   virtual_sound.sh start FOLDER    start it; prints NAME=VALUE lines for the environment
#   virtual_sound.sh stop FOLDER     end it
#
# PulseAudio with two null sinks, reached by PortAudio through ALSA's pulse plugin:
#   device 'default'   plays into the sink 'speakers'; its microphone is fed by
#                      `paplay --device=micline take.wav`
#   device 'loop'      hears what it plays
#
# Missing Debian packages are installed when that needs no password. Exit code 77: this machine
# can't have the server; the reason is on stderr.
#
# The folder's path must be short and without spaces: it holds the server's socket.
#
# norewinds=1: otherwise a null sink may sleep for two seconds and slip a block when it wakes.
set -euo pipefail
umask 077
verb=${1:?start or stop} folder=${2:?a folder}
socket=$folder/native
rate=48000

environment() {
  cat <<END
PULSE_SERVER=unix:$socket
PULSE_COOKIE=$folder/cookie
PULSE_CLIENTCONFIG=$folder/client.conf
ALSA_CONFIG_PATH=$folder/asound.conf
XDG_RUNTIME_DIR=$folder/run
END
}

cannot() { echo "no virtual sound: $*" >&2; exit 77; }

missing_packages() {
  ldconfig=$(PATH=$PATH:/sbin:/usr/sbin ldconfig -p)
  [[ $ldconfig == *libportaudio.so.2* ]] || echo libportaudio2
  command -v pulseaudio >/dev/null || echo pulseaudio
  command -v pactl >/dev/null && command -v paplay >/dev/null || echo pulseaudio-utils
  compgen -G '/usr/lib/*/alsa-lib/libasound_module_pcm_pulse.so' >/dev/null || echo libasound2-plugins
}

install_packages() {
  local wanted=$1 sudo=()
  [ -z "$wanted" ] && return
  command -v apt-get >/dev/null || cannot "needs $wanted, and there is no apt-get"
  if [ "$(id -u)" != 0 ]; then
    sudo -n true 2>/dev/null || cannot "needs $wanted; run: sudo apt install" $wanted
    sudo=(sudo -n)
  fi
  local install=("${sudo[@]}" env DEBIAN_FRONTEND=noninteractive
    apt-get -qq -y -o Dpkg::Use-Pty=0 --no-install-recommends install)
  # shellcheck disable=SC2086 # several words on purpose
  "${install[@]}" $wanted >"$folder/apt.log" 2>&1 </dev/null && return
  "${sudo[@]}" apt-get -qq update >>"$folder/apt.log" 2>&1 </dev/null || true
  # shellcheck disable=SC2086
  "${install[@]}" $wanted >>"$folder/apt.log" 2>&1 </dev/null ||
    cannot "apt-get could not install" $wanted "(see $folder/apt.log)"
}

write_configuration() {
  mkdir -p "$folder"/{home,run,state}
  cat >"$folder/client.conf" <<END
autospawn = no
enable-memfd = no
END
  cat >"$folder/daemon.conf" <<END
exit-idle-time = -1
high-priority = no
realtime-scheduling = no
enable-memfd = no
default-sample-format = float32le
default-sample-rate = $rate
alternate-sample-rate = $rate
END
  cat >"$folder/server.pa" <<END
.fail
load-module module-native-protocol-unix socket=$socket auth-anonymous=1
load-module module-null-sink sink_name=speakers rate=$rate channels=2 format=float32le norewinds=1
load-module module-null-sink sink_name=micline rate=$rate channels=1 channel_map=mono format=float32le norewinds=1
load-module module-remap-source source_name=mic master=micline.monitor rate=$rate channels=1 channel_map=mono master_channel_map=mono format=float32le remix=no
set-default-sink speakers
set-default-source mic
END
  # Instead of the system's file: only these devices are listed, and nothing complains.
  cat >"$folder/asound.conf" <<'END'
pcm.loop { type asym
  playback.pcm { type pulse device speakers }
  capture.pcm { type pulse device speakers.monitor }
  hint { show on description "Loop" } }
pcm.!default { type pulse
  hint { show on description "Speakers and microphone" } }
ctl.!default { type pulse }
END
}

answers() { pactl list short sources 2>/dev/null | grep -qw mic; }

start() {
  mkdir -p "$folder"
  install_packages "$(missing_packages | tr '\n' ' ')"
  write_configuration
  export HOME=$folder/home
  unset DISPLAY DBUS_SESSION_BUS_ADDRESS DBUS_SYSTEM_BUS_ADDRESS
  local line
  while read -r line; do export "$line"; done < <(environment)
  PULSE_CONFIG=$folder/daemon.conf PULSE_STATE_PATH=$folder/state PULSE_RUNTIME_PATH=$folder/run \
    setsid pulseaudio -n -F "$folder/server.pa" --daemonize=no --use-pid-file=no \
    --log-target="newfile:$folder/pulse.log" </dev/null >"$folder/pulse.out" 2>&1 &
  echo $! >"$folder/pid"
  for _ in $(seq 200); do
    answers && { environment; return; }
    kill -0 "$(<"$folder/pid")" 2>/dev/null || break
    sleep 0.05
  done
  stop
  cannot "the server did not come up: $(tail -n 3 "$folder"/pulse.* 2>/dev/null)"
}

# the number may belong to another program by now, and a dead one has no command line
running() { tr '\0' ' ' 2>/dev/null <"/proc/$1/cmdline" | grep -qF "$folder/server.pa"; }

stop() {
  local pid
  [ -r "$folder/pid" ] || return 0
  pid=$(<"$folder/pid")
  rm -f "$folder/pid"
  for _ in $(seq 60); do
    running "$pid" || return 0
    kill "$pid" 2>/dev/null || true
    sleep 0.05
  done
  kill -9 "$pid" 2>/dev/null || true
}

case $verb in
  start) start ;;
  stop) stop ;;
  *) echo "virtual_sound.sh start|stop FOLDER" >&2; exit 2 ;;
esac
