// SPDX-License-Identifier: GPL-3.0-or-later
// A drawing of the sole, our own, to point at where it is tender. The same choice stands in words
// beside it; the drawing is for the finger.
import { html, classes } from '../lib/ui.js';

/** The outline of a left sole, toes up, 100 x 240. */
const SOLE = 'M52 236 C30 236 22 216 24 194 C26 172 34 158 34 138 C34 118 22 100 20 78 C18 52 22 34 34 26 C46 18 62 20 74 30 C86 40 92 58 90 80 C88 104 80 124 80 146 C80 168 84 184 82 204 C80 224 72 236 52 236 Z';
const TOES = [[30, 12, 11, 13], [50, 7, 7.5, 9], [65, 12, 6.5, 8], [77, 20, 6, 7.5], [88, 31, 5.5, 7]];

/** Where each word of the vocabulary lies: inner side is left on a left sole seen from below... drawn as if looked down on. */
const PLACES = {
    'fascia origin': { x: 44, y: 180, rx: 13, ry: 12 },
    'heel pad': { x: 54, y: 208, rx: 17, ry: 15 },
    arch: { x: 46, y: 128, rx: 11, ry: 26 },
    'back of heel': { x: 53, y: 237, rx: 22, ry: 7 },
    'inner ankle': { x: 13, y: 172, rx: 9, ry: 14 },
};

/** @param {{side: 'left'|'right', value: any, words: string[], onChoose: (word: string|undefined) => void}} props */
export function FootMap({ side, value, words, onChoose }) {
    return html`
        <svg class="foot-map" viewBox="-6 -10 118 262" aria-hidden="true">
            <g transform=${side === 'right' ? 'translate(106 0) scale(-1 1)' : ''}>
                <path class="sole" d=${SOLE} />
                ${TOES.map(([x, y, rx, ry]) => html`<ellipse class="sole" cx=${x} cy=${y} rx=${rx} ry=${ry} />`)}
                <path class="band" d="M45 182 C44 150 40 110 36 66 M48 182 C50 150 52 110 52 64 M51 182 C58 150 66 116 70 70" />
                ${words.filter((word) => word in PLACES).map((word) => {
                    const at = PLACES[/** @type {keyof typeof PLACES} */ (word)];
                    return html`<ellipse class=${classes('spot', value === word && 'is-chosen')} cx=${at.x} cy=${at.y} rx=${at.rx} ry=${at.ry}
                        onClick=${() => onChoose(value === word ? undefined : word)}><title>${word}</title></ellipse>`;
                })}
            </g>
            <text class="map-side" x="53" y="252" text-anchor="middle">${side}</text>
        </svg>`;
}
