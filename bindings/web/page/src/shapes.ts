// What the engine gives as JSON, as far as the page reads it.

export type Fields = Record<string, unknown>;

export interface RecordView {
  at: string;
  fields: Fields;
  who: string;
  mine: boolean;
  made_at: number;
  struck: string | null;
  unsettled: string[];
  hits?: number | null;
  my_hits?: number | null;
  hash?: string | null;
  taken_at?: number | null;
  placed?: boolean;
  shows?: string[];
  /** Height of the upright picture as a part of its width. */
  tall?: number | null;
  marks?: Mark[] | null;
}

export type Mark = { ring: { x: number; y: number; r: number } } | { arrow: { from: [number, number]; to: [number, number] } } | { text: { x: number; y: number; text: string } };

export interface Counts {
  damaged: number;
  other: number;
  cleared: number;
  photos: number;
  overviews: number;
  by_others: number;
}

export interface PlaceRow { at: string; name: string; fields: Fields; counts: Counts }

export interface House {
  id: string;
  property: Fields | null;
  crew: { person: string; device: string; me: boolean }[];
  changes: number;
  places: PlaceRow[];
  lists: Record<string, RecordView[]>;
  unplaced: Counts;
  conflicts: number;
}

export interface PlaceView {
  at: string;
  name: string;
  record: RecordView | null;
  findings: RecordView[];
  parts: RecordView[];
  measurements: RecordView[];
  squares: RecordView[];
  notes: RecordView[];
  photos: RecordView[];
}

export interface OpenPoint {
  point: {
    rule: string;
    urgency: 'must' | 'should' | 'consider';
    sentence: string;
    why: string;
    settles: string;
    office_can_settle: boolean;
  };
  leads: { at: string; place: string | null } | null;
}

export interface Receipt { record: string; changed: boolean; undo: unknown }

export interface AccountLine { text: string }
export interface Account {
  address: string;
  days: string[];
  looked_at: AccountLine[];
  observed: { name: string; lines: AccountLine[] }[];
  before: AccountLine[];
  unsure: AccountLine[];
  next: string[];
  cautions: string[];
  signature: { signed_by: string[]; means: string };
  no_promise: string;
}

export interface Conflict {
  at: string;
  field: string;
  statements: { value: unknown; words: string | null; who: string; at: number }[];
}

export interface PhotoState { id: string; hash: string; size: number; mine: boolean; here: boolean; safe: boolean }

export interface Peer { name: string; office: boolean; lacking: number }

export interface Word { code: string; label: string; of_total?: boolean; soft_metal?: boolean; unit?: string }

export interface Vocabulary {
  Cause: Word[];
  Component: Word[];
  Condition: Word[];
  Finish: Word[];
  Material: Word[];
  Severity: Word[];
  StructureKind: Word[];
  cautions: { text: string; source: unknown }[];
  deference: string;
  signature_means: string;
}

export interface Sun { altitude: number; azimuth: number; grazing_angle: number; light: string; best: string | null }

export interface Pitch { read: number; rounded: number; remains_degrees: number }

export interface JobRow { job: string; title: string; opened: number }

export interface Place { latitude: number; longitude: number; altitude_m: number | null; accuracy_m: number | null }

export interface State {
  enrolled: boolean;
  person: string;
  office: string;
  jobs: JobRow[];
  vocabulary: Vocabulary;
  persisted: boolean;
  usage: number;
  quota: number;
  link: string;
  waiting: number;
}

export interface PhotoNote {
  role?: string;
  place?: string;
  caption?: string;
  shows?: string[];
}
