// SPDX-License-Identifier: GPL-3.0-or-later
// What the program computes of a scan is seen: the device's maps and limits, two visits' scans, the papers.
import assert from 'node:assert/strict';
import fs from 'node:fs';
import { open, openDemo, signIn, goTo, computed, isSaved, shoot, noTroubles, WORK_MS } from './browser.mjs';
import { begin, dropScan } from './visits.mjs';
import { demoScans } from './server.mjs';

/** The result on the page, as the program computed it; waits for the first one. @param {any} page */
async function readResult(page) {
    return page.evaluate(async () => {
        const { computation } = await import('/lib/state.js');
        for (let tenths = 0; !computation.result.value && tenths < 600; tenths++) await new Promise((done) => setTimeout(done, 100));
        const { visit, files } = computation.result.value;
        return { visit, files: Object.keys(files), maps: await computation.pressMaps(computation.result.value) };
    });
}

export async function test_the_device_is_painted_by_what_presses_it({ browser, server }) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'clinician');
    await openDemo(page);
    await computed(page);
    await goTo(page, 'Orthosis');
    const card = page.getByRole('region', { name: 'How the left device bears the foot', exact: true });
    await card.getByText('computed in full', { exact: true }).waitFor({ timeout: WORK_MS });
    const { visit, maps } = await readResult(page);
    const { press } = visit.feet.left.orthosis;
    assert.equal(press.effort, 'final');
    const parts = press.moments.find((one) => one.moment === 'mid-stance').parts;
    const rows = await card.locator('.regions tbody tr').evaluateAll((all) => all.map((row) => [...row.querySelectorAll('td')].map((cell) => cell.textContent)));
    assert.deepEqual(rows.map((row) => [row[0], row[2], /over/.test(row[4])]), parts.map((part) => [String(part.mean_kPa), String(part.peak_kPa), part.over_mean_limit || part.over_peak_limit]));
    for (const text of press.cautions) await card.getByText(text, { exact: true }).waitFor();
    for (const [name, key] of [['Pressure', 'pressure_kPa'], ['Sinking', 'sink_mm'], ['Stress', 'stress_MPa']]) {
        await page.getByRole('group', { name: 'Colours on the device' }).getByRole('button', { name }).click();
        await page.getByRole('img', { name: /: from 0 to [\d.]+ (kPa|mm|MPa)$/ }).waitFor();
        const top = Number(/from 0 to ([\d.]+)/.exec(await page.locator('.device-card svg.scale').getAttribute('aria-label'))[1]);
        const greatest = Math.max(...maps.feet.left[key]);
        assert.ok(top >= greatest && top < 2.01 * greatest, `${name}: scale to ${top}, greatest ${greatest}`);
        await page.waitForTimeout(400);
        await shoot(page, `device-${name.toLowerCase()}`);
    }
    await card.getByRole('button', { name: 'Push-off' }).click();
    await card.getByText('Pressure on the foot, push-off', { exact: false }).waitFor();
    await page.evaluate(() => document.querySelector('.regions')?.scrollIntoView({ block: 'center' }));
    await shoot(page, 'device-regions');
    noTroubles(troubles);
}

export async function test_a_device_is_laid_against_its_foot({ browser, server }) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'clinician');
    await openDemo(page);
    await computed(page);
    await goTo(page, 'Foot');
    const card = page.getByRole('region', { name: 'Foot against its device' });
    const { fit } = (await readResult(page)).visit.feet.left;
    const row = card.getByRole('row', { name: /^Medial arch/ }).first();
    const arch = fit.parts.find((one) => one.region === 'medial arch');
    assert.equal(Number(await row.getByRole('cell').nth(1).textContent()), Number(arch.air_max_mm.toFixed(1)));
    assert.ok(arch.gap_mean_mm > 0.5, `the ordered arch fill leaves air under the arch: ${arch.gap_mean_mm}`);
    await card.getByRole('button', { name: 'Show where the left device touches' }).click();
    await page.waitForFunction(() => /** @type {any} */ ([...document.querySelectorAll('.room-view')]).some((room) => room.footScene?.skin?.material.vertexColors));
    await card.scrollIntoViewIfNeeded();
    await page.waitForTimeout(400);
    await shoot(page, 'fit');
    noTroubles(troubles);
}

/** What a file begins with, by the end of its name. @type {Record<string, RegExp>} */
const BEGINNINGS = { '.pdf': /^%PDF-1/, '.ics': /^BEGIN:VCALENDAR/, '.json': /^\s*\{\s*"/ };

export async function test_papers_are_at_hand_where_they_are_needed({ browser, server }) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'clinician');
    await openDemo(page);
    await computed(page);
    const { files } = await readResult(page);
    const want = { Plan: ['letter.pdf', 'patient.pdf', 'plan.ics', 'consent.pdf', 'plan.pdf', 'visit-bundle.json'], Load: ['load.pdf'], Orthosis: ['order.pdf'] };
    for (const [area, names] of Object.entries(want)) {
        await goTo(page, area);
        const there = names.filter((name) => files.includes(name));
        await page.waitForFunction((count) => document.querySelectorAll('.papers a').length === count, there.length);
        for (const name of there) {
            const [download] = await Promise.all([page.waitForEvent('download'), page.locator(`.papers a[download="${name}"]`).click()]);
            const begins = fs.readFileSync(await download.path()).subarray(0, 15).toString('latin1');
            assert.match(begins, BEGINNINGS[name.slice(name.lastIndexOf('.'))], name);
        }
    }
    assert.ok(['letter.pdf', 'patient.pdf', 'load.pdf'].every((name) => files.includes(name)));
    noTroubles(troubles);
}

export async function test_a_scan_is_compared_with_the_last_visits({ browser, server }) {
    const { page, troubles } = await open(browser);
    const [first, second] = [demoScans(7), demoScans(8)];
    await signIn(page, server, 'clinician');
    await begin(page, 'Marit Quay', 'HB-7100');
    await goTo(page, 'Foot');
    await dropScan(page, 'left', first.left);
    await isSaved(page);
    await computed(page);
    await page.locator('.visit-bar').getByRole('button', { name: /^New visit/ }).click();
    const card = page.getByRole('region', { name: 'Against the last visit' });
    await card.getByText('there is nothing to compare', { exact: false }).waitFor({ timeout: WORK_MS });
    await dropScan(page, 'left', second.left);
    await card.getByRole('columnheader', { name: 'Now − then' }).waitFor({ timeout: WORK_MS });
    await computed(page);
    await card.getByRole('button', { name: 'Show where they differ' }).click();
    await card.locator('[data-median]').waitFor({ timeout: WORK_MS });
    const median = Number(await card.locator('[data-median]').getAttribute('data-median'));
    assert.ok(median > 0.05 && median < 10, `two invented feet lie ${median} mm apart`);
    await card.locator('.room-view').scrollIntoViewIfNeeded();
    await page.waitForTimeout(400);
    await shoot(page, 'against-last');
    noTroubles(troubles);
    for (const scans of [first, second]) fs.rmSync(scans.folder, { recursive: true });
}

/** Bright pixels aside: where a landmark's ball is on the screen, of the foot's room. @param {any} page @param {string} name */
async function placeOnScreen(page, name) {
    return page.evaluate((mark) => /** @type {any} */ (document.querySelector('.foot-card .room-view')).footScene.screenOf(mark), name);
}

export async function test_a_landmark_moved_by_hand_is_measured_from_and_undone({ browser, server }) {
    const { page, troubles } = await open(browser);
    const scans = demoScans(9);
    await signIn(page, server, 'clinician');
    await begin(page, 'Runa Slip', 'HB-7200');
    await goTo(page, 'Foot');
    await dropScan(page, 'left', scans.left);
    await isSaved(page);
    await computed(page);
    const left = async () => (await readResult(page)).visit.feet.left;
    const was = await left();
    const card = page.getByRole('region', { name: 'left foot', exact: true });
    await card.locator('.landmarks summary').click();
    // By keys: eight nudges of half a millimetre towards the heel.
    await card.getByRole('button', { name: 'Metatarsal head 1', exact: true }).click();
    const room = card.locator('.room-view');
    await room.focus();
    for (let i = 0; i < 8; i++) await page.keyboard.press('Alt+ArrowLeft');
    await card.getByText('by hand, 4 mm').waitFor();
    await isSaved(page);
    await page.waitForFunction(() => !/being measured again/.test(document.querySelector('.foot-card')?.textContent ?? ''), null, { timeout: WORK_MS });
    await computed(page);
    const nudged = await left();
    assert.deepEqual(nudged.scan.by_hand.landmarks, ['metatarsal_head_1']);
    assert.ok(Math.abs(was.measures.truncated_length_mm - nudged.measures.truncated_length_mm - 4) < 0.11, 'the length to it is four shorter');
    await card.getByRole('row', { name: /^Truncated length/ }).locator('.by-hand').waitFor();
    // By dragging over the skin.
    const from = await placeOnScreen(page, 'heel_medial');
    await page.mouse.move(from.x, from.y);
    await page.mouse.down();
    await page.mouse.move(from.x + 6, from.y - 4, { steps: 3 });
    await page.mouse.move(from.x + 12, from.y - 8, { steps: 3 });
    await page.mouse.up();
    await card.getByRole('row', { name: /^Heel medial/ }).getByText(/by hand, [\d.]+ mm/).waitFor();
    await isSaved(page);
    await page.waitForFunction(() => !/being measured again/.test(document.querySelector('.foot-card')?.textContent ?? ''), null, { timeout: WORK_MS });
    await computed(page);
    const dragged = await left();
    assert.deepEqual(dragged.scan.by_hand.landmarks, ['metatarsal_head_1', 'heel_medial']);
    assert.notDeepEqual(dragged.scan.landmarks.heel_medial, was.scan.landmarks.heel_medial);
    await card.scrollIntoViewIfNeeded();
    await shoot(page, 'landmarks-by-hand');
    // Undone one by one, then all.
    await page.locator('.visit-bar').getByRole('button', { name: /^Undo/ }).click();
    await card.getByRole('row', { name: /^Heel medial/ }).getByText('by hand').waitFor({ state: 'detached' });
    await isSaved(page);
    await card.getByRole('button', { name: 'Metatarsal head 1: as found' }).click();
    await isSaved(page);
    await page.waitForFunction(() => !/being measured again/.test(document.querySelector('.foot-card')?.textContent ?? ''), null, { timeout: WORK_MS });
    await computed(page);
    const back = await left();
    assert.equal(back.scan.by_hand, undefined);
    assert.equal(back.measures.truncated_length_mm, was.measures.truncated_length_mm);
    noTroubles(troubles);
    fs.rmSync(scans.folder, { recursive: true });
}

/** A binary STL as a PLY whose points are blue, red at the toes. @param {string} file */
function colouredPly(file) {
    const stl = fs.readFileSync(file);
    const triangles = stl.readUInt32LE(80);
    const head = `ply\nformat binary_little_endian 1.0\nelement vertex ${3 * triangles}\nproperty float x\nproperty float y\nproperty float z\nproperty uchar red\nproperty uchar green\nproperty uchar blue\nelement face ${triangles}\nproperty list uchar int vertex_indices\nend_header\n`;
    const points = Buffer.alloc(15 * 3 * triangles);
    const faces = Buffer.alloc(13 * triangles);
    for (let i = 0; i < triangles; i++) {
        faces[13 * i] = 3;
        for (let k = 0; k < 3; k++) {
            const at = 15 * (3 * i + k);
            stl.copy(points, at, 84 + 50 * i + 12 + 12 * k, 84 + 50 * i + 24 + 12 * k);
            points.set(stl.readFloatLE(84 + 50 * i + 12 + 12 * k) > 0 ? [220, 30, 30] : [30, 30, 220], at + 12);
            faces.writeInt32LE(3 * i + k, 13 * i + 1 + 4 * k);
        }
    }
    const ply = file.replace('.stl', '.ply');
    fs.writeFileSync(ply, Buffer.concat([Buffer.from(head), points, faces]));
    return ply;
}

export async function test_a_scanners_colours_are_shown_and_can_be_put_away({ browser, server }) {
    const { page, troubles } = await open(browser);
    const scans = demoScans(10);
    await signIn(page, server, 'clinician');
    await begin(page, 'Tove Mole', 'HB-7300');
    await goTo(page, 'Foot');
    await dropScan(page, 'left', colouredPly(scans.left));
    await computed(page);
    const card = page.getByRole('region', { name: 'left foot', exact: true });
    const surface = await page.evaluate(async () => {
        const { computation } = await import('/lib/state.js');
        const mesh = await computation.mesh(computation.result.value, 'left_foot.mesh');
        return { points: mesh.points.length / 3, colours: mesh.colours?.length, some: [...new Set(mesh.colours)].sort((a, b) => a - b) };
    });
    assert.equal(surface.colours, 3 * surface.points);
    assert.ok([30, 220].every((value) => surface.some.includes(value)), `the file's colours came through: ${surface.some}`);
    const hasColours = () => page.evaluate(() => /** @type {any} */ (document.querySelector('.foot-card .room-view')).footScene.skin.material.vertexColors);
    const button = card.getByRole('button', { name: 'Colours as scanned' });
    assert.equal(await hasColours(), true);
    await card.locator('.room-view').scrollIntoViewIfNeeded();
    await shoot(page, 'scanned-colours');
    await button.click();
    await page.waitForTimeout(100);
    assert.equal(await hasColours(), false);
    assert.equal(await button.getAttribute('aria-pressed'), 'false');
    noTroubles(troubles);
    fs.rmSync(scans.folder, { recursive: true });
}

export async function test_what_was_inferred_is_overruled_by_one_touch({ browser, server }) {
    const { page, troubles } = await open(browser);
    const scans = demoScans(11);
    await signIn(page, server, 'clinician');
    await begin(page, 'Signe Pier', 'HB-7400');
    await goTo(page, 'Foot');
    await dropScan(page, 'left', scans.left);
    await isSaved(page);
    await computed(page);
    const card = page.getByRole('region', { name: 'left foot', exact: true });
    const list = card.locator('.inferred-list');
    const scan = async () => (await readResult(page)).visit.feet.left.scan;
    const touch = async (/** @type {string} */ name, /** @type {(scan: any) => boolean} */ isSo) => {
        await list.getByRole('button', { name, exact: true }).click();
        for (let i = 0; i < 100 && !isSo(await scan()); i++) await page.waitForTimeout(200);
        assert.ok(isSo(await scan()), `after “${name}”`);
    };
    const was = await scan();
    await list.locator('summary').click();
    await list.getByText(`Up is ${was.inferred.up.is} of the file`, { exact: false }).waitFor();
    await touch('It is a sole only', (now) => now.sole_only && now.inferred.extent.given && now.foot_length_mm === null);
    await touch('Infer it again', (now) => !now.sole_only && now.foot_length_mm === was.foot_length_mm);
    await touch('It is a negative', (now) => now.inferred.cast.given);
    await touch('Leave holes open', (now) => now.holes_filled === 0);
    await touch('Fill small holes', (now) => now.holes_filled === was.holes_filled);
    await list.scrollIntoViewIfNeeded();
    await shoot(page, 'inferred');
    // In inches it is no foot: that is said, and can be taken back.
    await list.getByRole('button', { name: 'It is inch' }).click();
    await page.getByText(/with unit inch the foot would be/).first().waitFor();
    await page.locator('.visit-bar').getByRole('button', { name: /^Undo/ }).click();
    await page.getByText(/with unit inch the foot would be/).first().waitFor({ state: 'detached' });
    await isSaved(page);
    await computed(page);
    assert.equal((await scan()).foot_length_mm, was.foot_length_mm);
    noTroubles(troubles);
    fs.rmSync(scans.folder, { recursive: true });
}
