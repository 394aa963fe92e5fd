// SPDX-License-Identifier: GPL-3.0-or-later
// The page's own rules (style 12): one way of imports, one file that fetches, no markup from text.
import test from 'node:test';
import assert from 'node:assert/strict';
import fs from 'node:fs';
import path from 'node:path';

const UI = path.resolve(import.meta.dirname, '../../../ui');
const ORDER = ['lib', 'parts', 'views'];
const files = ORDER.flatMap((folder) => fs.readdirSync(path.join(UI, folder)).filter((name) => name.endsWith('.js')).map((name) => ({ folder, name, text: fs.readFileSync(path.join(UI, folder, name), 'utf8') })));

test('lib stands under parts, parts under views', () => {
    for (const { folder, name, text } of files)
        for (const [, other] of text.matchAll(/(?:from|import)[ (]'\.\.\/(\w+)\//g))
            if (other !== 'vendor') assert.ok(ORDER.indexOf(other) < ORDER.indexOf(folder), `${folder}/${name} reaches up to ${other}`);
});

test('only lib/api.js talks to the server, and text never becomes markup', () => {
    for (const { folder, name, text } of files) {
        if (`${folder}/${name}` !== 'lib/api.js') assert.ok(!/\bfetch\(|XMLHttpRequest|EventSource/.test(text), `${folder}/${name} fetches`);
        assert.ok(!/innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function/.test(text), `${folder}/${name} makes markup or code of text`);
    }
});

test('only lib/ui.js and the 3-D and chart parts know the vendored libraries', () => {
    const may = ['lib/ui.js', 'lib/compare.js', 'parts/scene.js', 'parts/foot_scene.js', 'parts/walk_scene.js', 'parts/walk_aids.js', 'parts/device_scene.js', 'parts/chart.js'];
    for (const { folder, name, text } of files)
        if (/^import .*\/vendor\//m.test(text)) assert.ok(may.includes(`${folder}/${name}`), `${folder}/${name} imports a library itself`);
});

test('every file has its licence line and fits in 400 lines', () => {
    for (const { folder, name, text } of files) {
        assert.ok(text.startsWith('// SPDX-License-Identifier: GPL-3.0-or-later'), `${folder}/${name}`);
        assert.ok(text.split('\n').length <= 400, `${folder}/${name} is too long`);
    }
});

test('the page names no address but its own', () => {
    for (const name of ['index.html', 'app.css', 'parts.css', 'main.js', 'mark.svg'])
        assert.ok(!/https?:\/\/(?!www\.w3\.org\/2000\/svg)/.test(fs.readFileSync(path.join(UI, name), 'utf8')), name);
    for (const { folder, name, text } of files) assert.ok(!/https?:\/\//.test(text), `${folder}/${name}`);
});
