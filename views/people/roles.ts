import { html } from '../html.ts';
import type { Option } from '../kit/field.ts';
import { badge } from '../kit/pageHead.ts';

export type Role = 'owner' | 'dyer' | 'viewer' | 'bench';

const roleWords: Readonly<Record<string, string>> = {
  owner: 'owner: everything, the people and the backups too',
  dyer: 'dyer: plan, log, change the library and the stock',
  viewer: 'viewer: look at everything, change nothing',
  bench: 'bench device: log what happens at the bench',
};

/** What a role may do, in words. */
export const roleText = (role: string): string => roleWords[role] ?? role;

export const roleOptions: readonly Option[] = [
  { value: 'owner', label: 'Owner' },
  { value: 'dyer', label: 'Dyer' },
  { value: 'viewer', label: 'Viewer' },
];
export const ROLE_NAMES: Readonly<Record<Role, string>> = {
  owner: 'Owner',
  dyer: 'Dyer',
  viewer: 'Viewer',
  bench: 'Bench device',
};
export const roleHint = html`Owner: everything. Dyer: plans, logs, changes library and stock. Viewer: looks.`;

export const leftBadge = badge({ label: 'left', tone: 'plain' });
