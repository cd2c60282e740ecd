#!/usr/bin/env bash
# Run the README's own two commands on a bare Debian: the smallest system that debootstrap builds, a clean copy of this
# commit, and no version pinned. What this machine needs to reach the outside (name server, certificates, proxies, index)
# and how many threads it may take goes along, nothing else does.
#
#     sudo tests/machines/bare_debian.sh [SUITE]        trixie where not given, or bookworm
#
# DEBIAN_MIRROR names another mirror. Exits with 77 where it cannot be done: not root, no debootstrap, no mounts.
set -euo pipefail

suite=${1:-trixie}
mirror=${DEBIAN_MIRROR:-http://deb.debian.org/debian}

if [ "$suite" != --inside ]; then
    for reason in \
        "$([ "$(id -u)" = 0 ] || echo 'not root')" \
        "$(command -v debootstrap >/dev/null || echo 'no debootstrap here')" \
        "$(unshare --mount --pid --fork mount -t tmpfs none /mnt 2>/dev/null || echo 'may not mount here')"; do
        [ -z "$reason" ] || { echo "bare Debian left out: $reason"; exit 77; }
    done
    place=$(mktemp -d)
    # Mounts live in a namespace of their own and go with its processes, however those end.
    trap 'kill -KILL "$inside" 2>/dev/null || true; wait "$inside" 2>/dev/null || true; rm -rf --one-file-system "$place"' EXIT
    trap 'exit 130' INT
    trap 'exit 143' TERM HUP
    unshare --mount --pid --fork --kill-child "$0" --inside "$suite" "$place" &
    inside=$!
    wait "$inside"
    exit
fi

suite=$2 place=$3 root=$3/root
top=$(git -C "$(dirname "$0")" rev-parse --show-toplevel)
began=$SECONDS

printf '== bare %s ==\n' "$suite"
if ! debootstrap --variant=minbase "$suite" "$root" "$mirror" >"$place/debootstrap" 2>&1; then
    tail -n 20 "$place/debootstrap"
    echo "bare Debian left out: debootstrap could not build $suite from $mirror"
    exit 77
fi
mount -t proc proc "$root/proc"
mkdir -p "$root/dev/shm" "$root/dev/pts"
mount -t tmpfs tmpfs "$root/dev/shm"
mount -t devpts devpts "$root/dev/pts"

cp -L /etc/resolv.conf "$root/etc/resolv.conf"
apt-config dump 2>/dev/null | grep -E '^Acquire::(http|https|Retries)' >"$root/etc/apt/apt.conf.d/99reach" || true
settings=()
for name in {http,https,no}_proxy {HTTP,HTTPS,NO}_PROXY PIP_{INDEX_URL,TRUSTED_HOST,PROXY,DEFAULT_TIMEOUT} \
    OMP_NUM_THREADS; do
    [ -z "${!name-}" ] || settings+=("$name=${!name}")
done
bundle=${PIP_CERT:-/etc/ssl/certs/ca-certificates.crt}
if [ -f "$bundle" ]; then
    cp -L "$bundle" "$root/etc/reach.crt"
    settings+=(PIP_CERT=/etc/reach.crt)
fi

mkdir "$root/root/rewound"
git -C "$top" archive HEAD | tar -x -C "$root/root/rewound"
printf 'built in %s s\n' $((SECONDS - began))

failed=0
for n in 1 2; do
    began=$SECONDS
    command=$("$top/.ci/command" "$n" "$top")
    if chroot "$root" /usr/bin/env -i HOME=/root PATH=/usr/sbin:/usr/bin:/sbin:/bin LANG=C.UTF-8 \
        DEBIAN_FRONTEND=noninteractive "${settings[@]}" \
        bash -euo pipefail -c "cd /root/rewound && $command" >"$place/log" 2>&1; then
        result=passed
    else
        result=FAILED failed=1
        # Packages' own chatter before the tests explains nothing once they have begun.
        if grep -q 'test session starts' "$place/log"; then
            sed -n '/test session starts/,$p' "$place/log"
        else
            tail -n 60 "$place/log"
        fi
    fi
    [ "$n" = 1 ] || tail -n 1 "$place/log"
    printf '%s: README command %s %s in %s s\n' "$suite" "$n" "$result" $((SECONDS - began))
done
exit $failed
