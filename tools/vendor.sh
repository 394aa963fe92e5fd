#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Copies the browser's libraries from node_modules to ui/vendor. A browser under a strict content policy
# takes no import map from the page, so bare names ("preact") become paths beside the file. A .d.ts
# beside each copy lets the type check see the library's own types.
set -eu
cd "$(dirname "$0")/.."
out=ui/vendor
from=node_modules
[ -d "$from/preact" ] || npm ci --ignore-scripts --no-audit --no-fund >&2
rm -rf "$out"
mkdir -p "$out"

# take FILE AS TYPES: one module, its bare imports rewritten
take() {
    sed -E -e 's#(from ?|import ?)(["'\''])preact/hooks["'\'']#\1\2./hooks.js\2#g' \
        -e 's#(from ?|import ?)(["'\''])preact["'\'']#\1\2./preact.js\2#g' \
        -e 's#(from ?|import ?)(["'\''])@preact/signals-core["'\'']#\1\2./signals-core.js\2#g' \
        -e 's#(from ?|import ?)(["'\''])htm["'\'']#\1\2./htm.js\2#g' \
        -e 's#(from ?|import ?)(["'\''])three["'\'']#\1\2./three.js\2#g' \
        -e '/^\/\/# sourceMappingURL=/d' "$from/$1" >"$out/$2"
    printf 'export * from "%s";\n' "$3" >"$out/${2%.js}.d.ts"
}
take preact/dist/preact.mjs preact.js preact
take preact/hooks/dist/hooks.mjs hooks.js preact/hooks
take @preact/signals-core/dist/signals-core.mjs signals-core.js @preact/signals-core
take @preact/signals/dist/signals.mjs signals.js @preact/signals
take htm/dist/htm.mjs htm.js htm
printf 'export { default } from "htm";\n' >"$out/htm.d.ts"
take three/build/three.core.js three.core.js three
take three/build/three.module.js three.js three
take three/examples/jsm/controls/OrbitControls.js orbit.js three/examples/jsm/controls/OrbitControls.js
take three-mesh-bvh/build/index.module.js bvh.js three-mesh-bvh
take uplot/dist/uPlot.esm.js uplot.js uplot
printf 'export { default } from "uplot";\n' >"$out/uplot.d.ts"
cp "$from/uplot/dist/uPlot.min.css" "$out/uplot.css"
if grep -nE "(from|import) ?[\"'](preact|three|htm|@)" "$out"/*.js | grep -v '^\S*: *\*' | head -n 3 | grep .; then
    echo "a bare import is left in $out" >&2
    exit 1
fi
