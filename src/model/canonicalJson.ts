/**
 * RFC 8785 (JSON Canonicalization Scheme): members sorted by UTF-16 code units, no white space, numbers as
 * ECMAScript writes them. Members that are undefined are left out.
 * @throws TypeError for NaN, infinities, functions and symbols, which JSON has no word for
 */
export function canonicalJson(value: unknown): string {
  if (value === null || typeof value === 'boolean' || typeof value === 'string') return JSON.stringify(value)
  if (typeof value === 'number') {
    if (!Number.isFinite(value)) throw new TypeError(`canonical JSON has no word for ${String(value)}`)
    return JSON.stringify(value)
  }
  if (Array.isArray(value)) return `[${value.map(canonicalJson).join(',')}]`
  if (typeof value === 'object') {
    let members = ''
    // Without a comparison, sort goes by code units.
    for (const key of Object.keys(value).sort()) {
      const member = (value as Record<string, unknown>)[key]
      if (member === undefined) continue
      members += `${members === '' ? '' : ','}${JSON.stringify(key)}:${canonicalJson(member)}`
    }
    return `{${members}}`
  }
  throw new TypeError(`canonical JSON has no word for a ${typeof value}`)
}
