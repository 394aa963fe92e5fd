// SPDX-License-Identifier: GPL-3.0-or-later
// The life of an edited record against a stand-in for fetch: what is typed is never dropped.
import test from 'node:test';
import assert from 'node:assert/strict';
import { EditedRecord } from '../../../ui/lib/record.js';

/** Answers in turn; each is {status, body} or an error thrown. */
function answers(list) {
    const asked = [];
    globalThis.fetch = async (path, how) => {
        asked.push({ path, method: how.method, body: how.body && JSON.parse(how.body) });
        const next = list.shift();
        if (next instanceof Error || !next) throw next ?? new Error('more was asked than expected');
        return new Response(JSON.stringify(next.body), { status: next.status });
    };
    return asked;
}

const row = () => ({ kind: 'visit', id: 'a'.repeat(16), version: 3, body: { mass_kg: 82, height_cm: 171 } });
const calm = (record) => clearTimeout(record.timer);

test('a change is saved against the version it was made on', async () => {
    const asked = answers([{ status: 200, body: { version: 4 } }]);
    const record = new EditedRecord(row());
    record.set('mass_kg', 84);
    assert.equal(record.state.value, 'waiting');
    await record.save();
    assert.deepEqual(asked[0].body, { version: 3, body: { mass_kg: 84, height_cm: 171 }, why: 'mass_kg' });
    assert.equal(record.state.value, 'saved');
    assert.equal(record.version.value, 4);
});

test('while the server is away the draft stays and is sent again', async () => {
    answers([new Error('gone'), { status: 200, body: { version: 4 } }]);
    const record = new EditedRecord(row());
    record.set('mass_kg', 84);
    await record.save();
    calm(record);
    assert.equal(record.state.value, 'away');
    assert.match(record.sentence.value, /kept here/);
    assert.equal(record.at('mass_kg'), 84);
    await record.save();
    assert.equal(record.state.value, 'saved');
});

test('a save whose answer was lost is recognised as one’s own', async () => {
    answers([{ status: 409, body: { error: 'clash', current: { version: 4, who: 'me', body: { height_cm: 171, mass_kg: 84 } } } }]);
    const record = new EditedRecord(row());
    record.set('mass_kg', 84);
    await record.save();
    assert.equal(record.state.value, 'saved');
    assert.equal(record.version.value, 4);
});

test('two people on different fields: both are kept without a question', async () => {
    const asked = answers([{ status: 409, body: { current: { version: 4, who: 'Ida Roe', body: { mass_kg: 82, height_cm: 172 } } } }, { status: 200, body: { version: 5 } }]);
    const record = new EditedRecord(row());
    record.set('mass_kg', 84);
    await record.save();
    calm(record);
    await record.save();
    assert.deepEqual(asked[1].body.body, { mass_kg: 84, height_cm: 172 });
    assert.equal(asked[1].body.version, 4);
    assert.equal(record.state.value, 'saved');
});

test('two people on one field: asked, and the answer stands', async () => {
    const asked = answers([{ status: 409, body: { current: { version: 4, who: 'Ida Roe', body: { mass_kg: 90, height_cm: 171 } } } }, { status: 200, body: { version: 5 } }]);
    const record = new EditedRecord(row());
    record.set('mass_kg', 84);
    await record.save();
    assert.equal(record.state.value, 'clash');
    assert.deepEqual(record.clash.value.merged.conflicts, [{ path: 'mass_kg', mine: 84, theirs: 90 }]);
    record.set('height_cm', 173); // typing on while the question stands
    record.solve({ mass_kg: 'mine' });
    calm(record);
    await record.save();
    assert.equal(asked[1].body.version, 4);
    assert.equal(asked[1].body.body.mass_kg, 84);
    assert.equal(record.state.value, 'saved');
});

test('what was typed while the clash stood is not lost by solving it', async () => {
    const asked = answers([{ status: 409, body: { current: { version: 4, who: 'Ida Roe', body: { mass_kg: 90, height_cm: 171 } } } }, { status: 200, body: { version: 5 } }]);
    const record = new EditedRecord(row());
    record.set('mass_kg', 84);
    await record.save();
    record.set('height_cm', 173);
    record.solve({ mass_kg: 'theirs' });
    calm(record);
    await record.save();
    assert.deepEqual(asked[1].body.body, { mass_kg: 90, height_cm: 173 });
});

test('typing goes on while a save is under way: the rest follows', async () => {
    const asked = answers([{ status: 200, body: { version: 4 } }, { status: 200, body: { version: 5 } }]);
    const record = new EditedRecord(row());
    record.set('mass_kg', 84);
    const first = record.save();
    record.set('height_cm', 172);
    await first;
    assert.equal(record.state.value, 'waiting');
    calm(record);
    await record.save();
    assert.equal(asked[1].body.version, 4);
    assert.deepEqual(asked[1].body.body, { mass_kg: 84, height_cm: 172 });
});

test('faults of the server stand beside the fields', async () => {
    answers([{ status: 422, body: { error: 'one value cannot be', faults: [{ key: 'mass_kg', sentence: 'mass 900 kg: at most 350' }] } }]);
    const record = new EditedRecord(row());
    record.set('mass_kg', 900);
    await record.save();
    assert.equal(record.state.value, 'refused');
    assert.equal(record.faults.value[0].key, 'mass_kg');
    assert.equal(record.at('mass_kg'), 900);
});

test('undo goes back step by step, redo forward again', async () => {
    const body = (mass) => ({ mass_kg: mass, height_cm: 171 });
    const asked = answers([
        { status: 200, body: { version: 4 } }, { status: 200, body: { ...row(), version: 4, body: body(81) } },
        { status: 200, body: { version: 5 } }, { status: 200, body: { ...row(), version: 5, body: body(80) } },
        { status: 200, body: { version: 6 } }, { status: 200, body: { ...row(), version: 6, body: body(81) } },
    ]);
    const record = new EditedRecord(row());
    await record.undo();
    await record.undo();
    await record.redo();
    const undone = asked.filter((one) => one.path.endsWith('/undo')).map((one) => one.body);
    assert.deepEqual(undone, [{ version: 3, to: 2 }, { version: 4, to: 1 }, { version: 5, to: 2 }]);
    assert.equal(record.at('mass_kg'), 81);
    assert.equal(record.canRedo(), true);
});
