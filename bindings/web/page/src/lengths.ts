// Lengths and areas as the record writes them, for steps by a tap.

/** Inches of a length such as 12' 6-1/2"; nothing where it is none. */
export function inches(text: unknown): number | undefined {
  const found = /^(?:(\d+)')?\s*(?:(\d+)(?:-(\d+)\/(\d+))?"|(\d+)\/(\d+)")?$/.exec(String(text ?? '').trim());
  if (!found || !found[0]) return undefined;
  const [, feet, whole, top, bottom, partTop, partBottom] = found.map(Number);
  const part = (a?: number, b?: number) => (a && b ? a / b : 0);
  return (feet || 0) * 12 + (whole || 0) + part(top, bottom) + part(partTop, partBottom);
}

/** A length in feet and inches, to the quarter of an inch. */
export function length(of: number): string {
  const quarters = Math.round(of * 4);
  const feet = Math.floor(quarters / 48);
  const whole = Math.floor((quarters % 48) / 4);
  const part = ['', '1/4', '1/2', '3/4'][quarters % 4]!;
  const tail = part ? (whole ? `${whole}-${part}"` : `${part}"`) : `${whole}"`;
  return feet ? (tail === '0"' ? `${feet}'` : `${feet}' ${tail}`) : tail;
}

/** Square feet of an area such as 96 sq ft. */
export function squareFeet(text: unknown): number | undefined {
  const found = /^([\d.]+)\s*sq ft$/.exec(String(text ?? '').trim());
  return found ? Number(found[1]) : undefined;
}
