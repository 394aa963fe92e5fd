// SPDX-License-Identifier: GPL-3.0-or-later
// The JSON the server gives and takes, as far as the page reads it.

export type Side = 'left' | 'right';
export type Json = any;

export interface User { id: string; login: string; name: string; role: 'owner' | 'clinician' | 'assistant' | 'maker'; permissions: string[]; must_set_passphrase?: boolean }
export interface Session {
    user: User | null; token: string; first_use: boolean;
    clinic: { name: string; invented: boolean };
}
export interface Head { kind: string; id: string; person?: string; version: number; who?: string; when?: string; why?: string }
export interface Row extends Head { body: Json }
export interface Fault { key: string; sentence: string }
export interface Finding {
    key: string; scope: 'visit' | 'person' | 'red_flag' | 'foot' | 'heel_pain'; kind: 'number' | 'answer' | 'word';
    unit: string; low: number; high: number; words: string[]; what: string;
}
/** A number of an order of a device, as the server's table has it. */
export interface OrderTerm { key: string; name: string; low: number; high: number; unit: string; source: string }
export interface Vocabulary { findings: Finding[]; acts: string[]; shells?: string[]; lengths?: string[]; metatarsal_pads?: string[]; top_covers?: string[]; order_terms?: OrderTerm[]; conditions?: string[]; medicines?: string[] }
export interface Job { id: string; state: 'waiting' | 'running' | 'done' | 'failed' | 'cancelled'; progress: number; sentence: string; result?: Json }
export interface Band { median: number; p05: number; p95: number }

/** What stands behind a number. */
export interface Reason {
    what: string; inputs?: (string | null | undefined | false)[]; formula?: string; source?: string; uncertainty?: string;
}

export type Point = [number, number, number];
export interface Pose {
    percent: number; solved: boolean; heel_height_mm: number; hindfoot_deg: number; roll_deg: number; hinges_down_mm: number[];
    toes_deg: number; rays_deg: number[]; slips_bw: number[];
}
/** What a treatment puts under or on the foot. */
export interface Drawn { shell: boolean; arch_fill_mm: number; heel_raise_mm: number; tape: boolean }
export interface WalkArm { name?: string; drawn?: Drawn; poses: Pose[]; tension_bw: ([number, number, number] | [])[] }
export interface WalkFoot {
    member: number; frame: string; foot_length_mm: number; arch_mm: Point; heel_x_mm: number; origin_mm: Point;
    rays: { hinge_mm: Point; head_mm: Point; windlass_radius_mm: number }[];
    today: WalkArm; changes: WalkArm[]; why?: string;
}
