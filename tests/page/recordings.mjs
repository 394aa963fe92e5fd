// SPDX-License-Identifier: GPL-3.0-or-later
// Pictures and recordings beside the findings: marked, traced, accepted edge by edge; a walk and a print.
import assert from 'node:assert/strict';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import zlib from 'node:zlib';
import { open, signIn, goTo, isSaved, shoot, axe, noTroubles, textOf } from './browser.mjs';
import { begin } from './visits.mjs';

/** A grey PNG of a bright band between rows 100 and 150, with seeded noise: made up. @param {number} columns @param {number} rows */
function bandPng(columns, rows) {
    let seed = 7;
    const next = () => (seed = (1103515245 * seed + 12345) % 2147483648) / 2147483648;
    const raw = Buffer.alloc(rows * (3 * columns + 1));
    for (let row = 0; row < rows; row++)
        for (let column = 0; column < columns; column++)
            raw.fill(Math.round((row >= 100 && row < 150 ? 150 : 70) + 60 * (next() - 0.5)), row * (3 * columns + 1) + 1 + 3 * column, row * (3 * columns + 1) + 4 + 3 * column);
    const chunk = (/** @type {string} */ kind, /** @type {Buffer} */ body) => {
        const data = Buffer.concat([Buffer.from(kind), body]);
        const out = Buffer.alloc(body.length + 12);
        out.writeUInt32BE(body.length, 0);
        data.copy(out, 4);
        out.writeUInt32BE(crc(data), body.length + 8);
        return out;
    };
    const head = Buffer.alloc(13);
    head.writeUInt32BE(columns, 0);
    head.writeUInt32BE(rows, 4);
    head.set([8, 2, 0, 0, 0], 8);
    return Buffer.concat([Buffer.from([0x89, 0x50, 0x4e, 0x47, 0xd, 0xa, 0x1a, 0xa]), chunk('IHDR', head), chunk('IDAT', zlib.deflateSync(raw)), chunk('IEND', Buffer.alloc(0))]);
}

/** @param {Buffer} data */
function crc(data) {
    let sum = 0xffffffff;
    for (const byte of data) {
        sum ^= byte;
        for (let k = 0; k < 8; k++) sum = (sum >>> 1) ^ (sum & 1 ? 0xedb88320 : 0);
    }
    return (sum ^ 0xffffffff) >>> 0;
}

/** An ultrasound picture as DICOM, explicit little endian, with pixels of 0.1 mm said and no region: made up. @param {number} columns @param {number} rows */
function spacedDicom(columns, rows) {
    const element = (/** @type {number} */ group, /** @type {number} */ number, /** @type {string} */ kind, /** @type {Buffer} */ value) => {
        const even = value.length % 2 ? Buffer.concat([value, Buffer.from(kind === 'UI' ? '\0' : ' ')]) : value;
        const head = Buffer.alloc(kind === 'OW' ? 12 : 8);
        head.writeUInt16LE(group, 0);
        head.writeUInt16LE(number, 2);
        head.write(kind, 4);
        if (kind === 'OW') head.writeUInt32LE(even.length, 8);
        else head.writeUInt16LE(even.length, 6);
        return Buffer.concat([head, even]);
    };
    const text = (/** @type {number} */ group, /** @type {number} */ number, /** @type {string} */ kind, /** @type {string} */ value) => element(group, number, kind, Buffer.from(value));
    const short = (/** @type {number} */ number, /** @type {number} */ value) => element(0x28, number, 'US', Buffer.from([value & 255, value >> 8]));
    const kind = '1.2.840.10008.5.1.4.1.1.6.1';
    const meta = Buffer.concat([text(2, 2, 'UI', kind), text(2, 3, 'UI', '1.2.3'), text(2, 16, 'UI', '1.2.840.10008.1.2.1')]);
    const length = Buffer.alloc(4);
    length.writeUInt32LE(meta.length);
    return Buffer.concat([Buffer.alloc(128), Buffer.from('DICM'), element(2, 0, 'UL', length), meta, text(8, 0x16, 'UI', kind), text(8, 0x60, 'CS', 'US'), short(2, 1),
        text(0x28, 4, 'CS', 'MONOCHROME2'), short(0x10, rows), short(0x11, columns), text(0x28, 0x30, 'DS', '0.1\\0.1'), short(0x100, 8), short(0x101, 8), short(0x102, 7), short(0x103, 0),
        element(0x7fe0, 0x10, 'OW', Buffer.alloc(columns * rows, 90))]);
}

/** The visit as it stands on the page. @param {any} page */
async function leftFoot(page) {
    return page.evaluate(async () => {
        const { visit } = await import('/lib/state.js');
        return visit.value.draft.value.feet?.left ?? {};
    });
}

export async function test_a_thickness_is_kept_only_with_both_edges_accepted({ browser, server }) {
    const { page, troubles } = await open(browser);
    const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'heelwright-us-'));
    const file = path.join(folder, 'grab.png');
    fs.writeFileSync(file, bandPng(320, 240));
    fs.writeFileSync(path.join(folder, 'broken.dcm'), Buffer.concat([Buffer.alloc(128), Buffer.from('DICMgarbage')]));
    await signIn(page, server, 'clinician');
    await begin(page, 'Mara Invented-Ultrasound', 'US-0001');
    await goTo(page, 'Findings');
    const side = page.getByRole('region', { name: 'Ultrasound' }).locator('.us-side').first();
    await side.getByLabel(/ultrasound picture of the left heel/).setInputFiles(path.join(folder, 'broken.dcm'));
    await side.getByRole('alert').filter({ hasText: 'DICOM' }).waitFor();
    await side.getByLabel(/ultrasound picture of the left heel/).setInputFiles(file);
    await side.locator('svg.us-picture').waitFor();
    // No scale, no millimetres: the caliper is refused in a sentence.
    await side.getByText('Marks as numbers').click();
    await side.getByLabel(/^Caliper/).fill('50, 100, 50, 150');
    await side.getByLabel(/^Caliper/).blur();
    await side.getByRole('alert').filter({ hasText: 'has no scale' }).waitFor();
    // The depth scale by touch: two marks 200 pixels apart, said to be 20 mm.
    await side.getByRole('button', { name: 'Depth scale' }).click();
    const picture = side.locator('svg.us-picture');
    const place = await picture.boundingBox();
    for (const row of [20, 220]) await picture.click({ position: { x: (310.5 / 320) * place.width, y: ((row + 0.5) / 240) * place.height } });
    await side.getByLabel(/^Between the marks/).fill('20');
    await side.getByLabel(/^Between the marks/).blur();
    await side.locator('.us-result', { hasText: 'Caliper' }).waitFor();
    assert.match(await textOf(side.locator('.us-result', { hasText: 'Caliper' })), /Caliper (4\.9\d?|5(\.0\d?)?)\smm/);
    // The band is 50 rows, so 5 mm, thick.
    await side.getByLabel(/^Box/).fill('30, 70, 290, 180');
    await side.getByLabel(/^Box/).blur();
    const keep = side.getByRole('button', { name: /^Keep .* mm as the left fascia/ });
    await keep.waitFor();
    assert.match(await textOf(keep), /Keep (4\.9|5\.0|5\.1)\d? mm/);
    assert.ok(await keep.isDisabled(), 'nothing is kept before it is accepted');
    await side.getByLabel(/upper \(superficial\) edge: it runs/).check();
    await side.getByRole('radio', { name: "heel bone's front edge" }).check();
    await side.getByRole('radio', { name: 'longitudinal' }).check();
    await side.getByText('Needed before it can be kept: the lower edge accepted').waitFor();
    assert.ok(await keep.isDisabled(), 'one edge is not enough');
    assert.equal((await leftFoot(page)).fascia_thickness_mm, undefined);
    await side.getByLabel(/lower \(deep\) edge: it runs/).check();
    await keep.click();
    await isSaved(page);
    const kept = await leftFoot(page);
    assert.equal(kept.fascia_thickness_mm, kept.ultrasound.thickness_mm);
    assert.equal(kept.ultrasound.scale, 'depth scale marked by hand');
    await side.getByText('No earlier picture of this side').waitFor();
    await side.scrollIntoViewIfNeeded();
    await shoot(page, 'ultrasound');
    await axe(page, 'findings with a picture');
    // Whatever moves the edges takes the thickness away.
    await side.getByRole('button', { name: 'Correct upper edge' }).click();
    await picture.click({ position: { x: 0.5 * place.width, y: (103 / 240) * place.height } });
    await page.waitForFunction(async () => {
        const { visit } = await import('/lib/state.js');
        const left = visit.value.draft.value.feet.left;
        return left.fascia_thickness_mm === undefined && left.ultrasound.thickness_mm === undefined && left.ultrasound.page.corrections.length === 1;
    });
    await isSaved(page);
    fs.rmSync(folder, { recursive: true });
    noTroubles(troubles, /400|422/);
}

export async function test_nothing_is_guessed_of_a_files_scale_or_unit({ browser, server }) {
    const { page, troubles } = await open(browser);
    const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'heelwright-unit-'));
    fs.writeFileSync(path.join(folder, 'spaced.dcm'), spacedDicom(320, 240));
    fs.writeFileSync(path.join(folder, 'walk.csv'), `Time,HEELx,HEELy,HEELz\n${Array.from({ length: 20 }, (_, i) => `${i / 100},${i},0,1`).join('\n')}\n`);
    await signIn(page, server, 'clinician');
    await begin(page, 'Ole Invented-Unit', 'UN-0001');
    await goTo(page, 'Findings');
    const picture = page.getByRole('region', { name: 'Ultrasound' }).locator('.us-side').first();
    await picture.getByLabel(/ultrasound picture of the left heel/).setInputFiles(path.join(folder, 'spaced.dcm'));
    await picture.locator('svg.us-picture').waitFor();
    await picture.getByText('Marks as numbers').click();
    await picture.getByLabel(/^Caliper/).fill('50, 100, 150, 100');
    await picture.getByLabel(/^Caliper/).blur();
    await picture.getByRole('alert').filter({ hasText: 'only when you confirm' }).waitFor();
    await picture.getByLabel(/pixels of 0\.1 × 0\.1 mm/).check();
    await picture.locator('.us-result', { hasText: 'Caliper 10 mm' }).waitFor();
    await shoot(page, 'ultrasound-spacing');
    // Any change of what is confirmed is a change of the reading.
    await picture.getByLabel(/pixels of 0\.1 × 0\.1 mm/).uncheck();
    await picture.getByRole('alert').filter({ hasText: 'only when you confirm' }).waitFor();
    // A table of markers that names no unit: asked for, not taken as millimetres.
    const walk = page.getByRole('region', { name: 'Gait and pressure' }).locator('.us-side').first();
    await walk.getByLabel(/recorded walk of the left foot/).setInputFiles(path.join(folder, 'walk.csv'));
    await walk.getByRole('alert').filter({ hasText: 'does not say its unit of length' }).waitFor();
    assert.equal((await leftFoot(page)).walk, undefined);
    await walk.getByLabel('Unit of length').selectOption('cm');
    await walk.getByLabel(/recorded walk of the left foot/).setInputFiles(path.join(folder, 'walk.csv'));
    await walk.getByText(/1 markers, 0 force plates/).waitFor();
    assert.equal((await leftFoot(page)).walk.unit, 'cm');
    await isSaved(page);
    // What no page sends is refused all the same.
    const answer = await page.evaluate(async (file) => {
        const { person } = await import('/lib/state.js');
        const { api } = await import('/lib/api.js');
        return api.addWalk(person.value.id, new File([file], 'walk.csv'), 'ell').then(() => '', (trouble) => trouble.message);
    }, fs.readFileSync(path.join(folder, 'walk.csv'), 'utf8'));
    assert.match(answer, /'unit' may be mm, cm or m, not 'ell'/);
    fs.rmSync(folder, { recursive: true });
    noTroubles(troubles, /400|422/);
}

export async function test_a_walk_and_a_print_are_seen({ browser, server, LeftOut }) {
    const data = process.env.HEELWRIGHT_DATA;
    if (!data) throw new LeftOut('no shared open data');
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'clinician');
    await begin(page, 'Olav Invented-Walk', 'WK-0001');
    await page.getByRole('spinbutton', { name: /body mass/i }).or(page.getByLabel(/^Body mass/)).first().waitFor().catch(() => {});
    await goTo(page, 'Findings');
    await page.evaluate(async () => {
        const { visit } = await import('/lib/state.js');
        visit.value.set('mass_kg', 75);
        visit.value.set('feet.left.measures', { foot_length_mm: 260 });
    });
    await isSaved(page);
    const side = page.getByRole('region', { name: 'Gait and pressure' }).locator('.us-side').first();
    await side.getByLabel(/recorded walk of the left foot/).setInputFiles(`${data}/gait/walk1.trc`);
    await side.getByLabel('Unit of length').selectOption('mm'); // the force table does not say it
    await side.getByLabel(/^Force plates of the same trial/).setInputFiles(`${data}/gait/walk1.forces`);
    await side.getByLabel(/^Plate of 7/).fill('6');
    await side.getByLabel(/^Plate of 7/).blur();
    await side.getByLabel('Marker at the back of the heel').selectOption('L.Heel');
    await side.getByLabel('Marker at the first head').selectOption('L.MT1');
    await side.getByLabel('Marker of the arch (navicular)').selectOption('L.Ankle.Medial');
    await side.getByText(/^Arch .* mm at contact/).waitFor();
    await side.getByLabel(/plantar pressure of the left foot/i).setInputFiles(`${data}/pressure/walk_step2_peak_Ncm2.csv`);
    await side.getByText(/arch index 0\.241/).waitFor();
    await side.getByText('What the file does not say').click();
    await side.getByLabel('Between frames, ms').fill('often');
    await side.getByLabel('Between frames, ms').blur();
    await side.locator('.field.is-wrong', { hasText: 'Between frames' }).waitFor();
    assert.equal((await leftFoot(page)).pressure.frame_ms, undefined);
    await side.scrollIntoViewIfNeeded();
    await shoot(page, 'gait-and-pressure');
    await axe(page, 'findings with a walk');
    noTroubles(troubles, /400|422/);
}
