// SPDX-License-Identifier: GPL-3.0-or-later
// Red flags, pinned over every area of a person: what is present, what is not answered, and the next
// question right there, so that they cannot be scrolled past.
import { html, useState } from '../lib/ui.js';
import { vocabulary, visit, computation, mayWrite } from '../lib/state.js';
import { ofScope, tally } from '../lib/groups.js';
import { address } from '../lib/router.js';
import { plural, sentenceCase } from '../lib/format.js';
import { ChoiceField } from './field.js';
import { citation } from './why.js';

/** @param {{person: string}} props */
export function RedFlags({ person }) {
    const record = visit.value;
    const rows = ofScope(vocabulary.value?.findings ?? [], 'red_flag');
    if (!record || rows.length === 0) return null;
    const answers = record.draft.value.red_flags;
    const count = tally(rows, answers);
    const present = rows.filter((row) => answers?.[row.key] === 'yes');
    const next = rows.find((row) => answers?.[row.key] === undefined);
    const state = present.length ? 'alarm' : count.open + count.notAsked > 0 ? 'open' : 'clear';
    const words = present.length ? `Red flag: ${present.map((row) => row.what).join('; ')}`
        : state === 'open' ? `Red flags: ${plural(count.open + count.notAsked, 'question')} of ${count.all} without an answer`
            : `Red flags: all ${count.all} asked, none present`;
    return html`
        <section class=${`flags flags-${state}`} aria-label="Red flags">
            <div class="flags-line"><strong>${words}</strong>
                <a href=${address('findings', person)}>${state === 'clear' ? 'See them' : 'All questions'}</a></div>
            ${present.length > 0 && html`<${Actions} />`}
            ${next && mayWrite('visit') && html`<div class="flags-next"><${ChoiceField} record=${record} path=${`red_flags.${next.key}`}
                label=${`${sentenceCase(next.what)}?`} words=${['no', 'yes']} warn="yes" key="next" /></div>`}
        </section>`;
}

/** What the rules say to do about those present. */
function Actions() {
    const flags = computation.result.value?.visit?.plan?.red_flags ?? [];
    const [isAll, showAll] = useState(false);
    if (flags.length === 0) return html`<p class="flags-do">The rules' answer is being computed.</p>`;
    return html`${flags.slice(0, isAll ? undefined : 2).map((/** @type {any} */ flag) => html`
            <p class="flags-do">${flag.sentence ?? flag.text ?? flag.action} ${flag.source && html`<small>${citation(flag.source)}</small>`}</p>`)}
        ${flags.length > 2
            && html`<button type="button" class="quiet" onClick=${() => showAll(!isAll)}>${isAll ? 'Fewer' : `${flags.length - 2} more`}</button>`}`;
}
