// Where each open point of the check is settled: the very screen, or the step of the visit.
import { path } from '../screen';
import type { OpenPoint } from '../shapes';

/** By the beginning of a rule's id; the first that fits counts. A step is a part of the house's screen. */
const SCREENS: [string, string][] = [
  ['visit.interview', 'owner'], ['visit.leave-to-climb', 'owner'], ['visit.date-of-loss', 'owner'], ['visit.ice-barrier', 'owner'],
  ['visit.recap', 'recap'], ['visit.signature', 'recap'], ['visit.cautions', 'step/eave'],
  ['record.conflict', 'settle'], ['record.question', 'step/questions'], ['photo.not-safe', 'safe'], ['photo.original-missing', 'safe'],
  ['interior.', 'step/inside'], ['structure.none', 'step/lot'], ['side.', 'step/sides'],
  ['eave.opening', 'step/eave'], ['gutter.width', 'step/eave'], ['roof.', 'step/roof'], ['pattern.', 'step/roof'],
];

const PLACES = /^(elevation|slope|room|structure|eave_opening)\//;

export function leadsTo(job: string, one: OpenPoint): string {
  const { rule } = one.point;
  const at = one.leads?.at;
  const own = SCREENS.find(([head]) => rule.startsWith(head));
  // The gutter's width is taken at the eave, whatever raised it.
  if (own && (!at || !own[1].startsWith('step/') || rule === 'gutter.width')) return path('job', job, ...own[1].split('/'));
  if (at?.startsWith('finding/')) return path('job', job, 'finding', at.split('/')[1]!);
  if (at?.startsWith('photo/')) return path('job', job, 'photo', at.split('/')[1]!);
  if (one.leads?.place && PLACES.test(one.leads.place)) return path('job', job, 'place', one.leads.place);
  return path('job', job, ...(own?.[1] ?? '').split('/').filter(Boolean));
}
