// Which parts each kind of place is looked over for, soft metals first (common practice, no
// source), and what the eye sees of each cause: words that a tap records.

const SIDE = ['gutter', 'downspout', 'gutter_guard', 'fascia', 'window_wrap', 'screen', 'window', 'window_bead', 'shutter',
  'siding', 'trim', 'soffit', 'entry_door', 'garage_door', 'light_fixture', 'meter', 'condenser'];
const SLOPE = ['shingles', 'ridge_cap', 'valley', 'box_vent', 'ridge_vent', 'turbine_vent', 'power_vent', 'exhaust_cap', 'pipe_boot',
  'step_flashing', 'counter_flashing', 'chimney_flashing', 'chimney_cap', 'chimney', 'skylight', 'drip_edge',
  'satellite_dish', 'solar_panel', 'mast', 'tar_patch'];
const STRUCTURE = ['fence_panel', 'fence_board', 'gate', 'patio_cover', 'shed_roof', 'shed_wall', 'mailbox', 'condenser', 'deck'];
const ROOM = ['ceiling', 'wall', 'floor', 'window'];

export function partsOf(at: string): string[] {
  if (at.startsWith('slope/')) return SLOPE;
  if (at.startsWith('structure/')) return STRUCTURE;
  if (at.startsWith('room/')) return ROOM;
  return at.startsWith('elevation/') ? SIDE : [];
}

export const SEEN: Record<string, string[]> = {
  hail: ['round marks, no scrape', 'fresh, bright', 'like marks on other soft metal here', 'gives under the thumb', 'granules lost in a round spot', 'spatter marks beside it'],
  wind: ['creased', 'lifted, seal broken', 'torn or gone', 'at the edge or ridge', 'on the windward side'],
  mechanical: ['one mark alone', 'a scrape or a line', 'below three feet only', 'where a ladder stood'],
  wear_or_age: ['grey, not fresh', 'even all over', 'blistered', 'foot traffic'],
  installation_fault: ['nail high or proud', 'fitted badly', 'not fastened'],
  prior: ['repaired before', 'rust or old stain', 'owner knew of it'],
  other_storm: ['struck by a branch'],
  unsure: ['look again with better light', 'could not come near'],
};
