#!/bin/sh
# Runs the systemd unit of docs/serving.md under a real `systemd --user`, in a mount namespace of its own, so that it also works where the machine itself was
# not booted by systemd: started, asked for a page, killed, started again by systemd, stopped. Needs root, systemd, dbus-daemon, curl; port 8000 free.
#
# usage: tools/unit.sh
set -e
if [ "$1" != inside ]; then exec unshare -m --propagation private sh "$0" inside; fi
root=$(cd "$(dirname "$0")/.." && pwd)
home=$(mktemp -d)
mount -t tmpfs tmpfs /run
mkdir -p /run/systemd/system /run/user/0 "$home/.config/systemd/user" "$home/.local/bin"
chmod 700 /run/user/0
sed -n '/^\[Unit\]/,/^WantedBy/p' "$root/docs/serving.md" > "$home/.config/systemd/user/topout.service"
printf '#!/bin/sh\nexec "%s/.venv/bin/topout" "$@"\n' "$root" > "$home/.local/bin/topout"
chmod +x "$home/.local/bin/topout"
export HOME="$home" XDG_RUNTIME_DIR=/run/user/0 DBUS_SESSION_BUS_ADDRESS=unix:path=/run/user/0/bus
dbus-daemon --session --address="$DBUS_SESSION_BUS_ADDRESS" --nofork --nopidfile & bus=$!
/lib/systemd/systemd --user & manager=$!
trap 'systemctl --user stop topout; kill $manager $bus; rm -rf "$home"' EXIT
answers() {
    for _ in $(seq 60); do curl -fs -o /dev/null http://127.0.0.1:8000/sign-in/ && return; sleep 1; done
    echo "$1: no page within a minute" >&2
    exit 1
}
sleep 2
systemctl --user enable --now topout
answers "started"
kill -9 "$(systemctl --user show topout -p MainPID --value)"
sleep 7  # RestartSec
answers "after a kill"
test "$(systemctl --user show topout -p NRestarts --value)" = 1
echo "the unit starts, answers, comes again after a kill, and stops"
