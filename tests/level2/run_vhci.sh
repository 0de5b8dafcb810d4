#!/usr/bin/env bash
# The program's own Bluetooth client against a real bluetoothd and a real kernel, without a radio.
#
# Boots a small virtual machine (qemu, software emulation) with Debian's kernel on this machine's
# own files, read-only; in it, virtual sensors stand behind /dev/vhci. Debian packages:
#   qemu-system-x86 bluez busybox-static dbus cpio linux-image-amd64 (only unpacked, see below)
# Usage: tests/level2/run_vhci.sh [PYTHON] [KERNEL_FOLDER]
#   PYTHON         of an environment with posewatch's dependencies and bumble (default: python3)
#   KERNEL_FOLDER  with boot/ and lib/modules/ of a linux-image package (default: it is fetched with
#                  apt-get download and unpacked)
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
python=$(command -v "${1:-python3}")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

kernel=${2:-$work/kernel}
if [ ! -d "$kernel/boot" ]; then
    package=$(apt-cache depends linux-image-amd64 | sed -n 's/.*Depends: \(linux-image-[0-9].*\)/\1/p')
    (cd "$work" && apt-get download -qq "$package" && dpkg-deb -x linux-image-*.deb "$kernel")
fi
vmlinuz=$(echo "$kernel"/boot/vmlinuz-*)
version=${vmlinuz##*/vmlinuz-}
export PATH=$PATH:/usr/sbin
depmod -b "$kernel" "$version"

# The first files of the machine: busybox, the modules in the order of loading, and init.
root=$work/root
mkdir -p "$root"/{bin,dev,proc,sys,host,beside,modules}
cp "$(command -v busybox)" "$root/bin/busybox"
cp -a "$here/guest_init" "$root/init"
modules=(virtio_pci 9p 9pnet_virtio hci_vhci uhid algif_hash algif_skcipher cmac ecb ecdh_generic)
n=10
for module in "${modules[@]}"; do
    while read -r kind path; do
        name=$(basename "$path")
        [ "$kind" = insmod ] && ! ls "$root"/modules/*-"$name" >/dev/null 2>&1 || continue
        cp "$path" "$root/modules/$n-$name"
        n=$((n + 1))
    done < <(modprobe -d "$kernel" -S "$version" --ignore-install --show-depends "$module" 2>/dev/null || true)
done
(cd "$root" && find . | cpio -o -H newc --quiet | gzip -1) >"$work/initrd"

qemu-system-x86_64 -machine q35,accel=tcg -cpu max -smp 2 -m 1024 -nographic -no-reboot -net none \
    -kernel "$vmlinuz" -initrd "$work/initrd" \
    -append "console=ttyS0 quiet panic=-1 posewatch.python=$python posewatch.here=$here" \
    -virtfs local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap \
    | tee "$work/console"
grep -q '^LEVEL 2: all scenarios passed' "$work/console"
