#!/usr/bin/env bash
# Links the library for apps. What the generator reads of it (UNIFFI_META_…, a quarter of a megabyte) is exported because
# rustc exports whatever has a name of its own; no app asks for it, so it is taken off rustc's list of exports, and the
# linker drops it. TAILCOMB_LINKER is who links: `cc` where it is not set, the NDK's clang for Android.
set -euo pipefail
for each in "$@"; do
    case $each in
        -Wl,--version-script=*) sed -i '/^ *UNIFFI_META_/d' "${each#*=}" ;;
    esac
done
exec "${TAILCOMB_LINKER:-cc}" "$@"
