import { z } from 'zod'

/**
 * Names of plants, points, analyzers, feeds and sample lines. A leading letter keeps JavaScript from reordering
 * integer-like keys; names every object already has (`constructor`, `toString` …) are refused.
 */
const NAME_PATTERN = /^[A-Za-z][A-Za-z0-9._-]{0,63}$/

export const NAME_RULE =
  'a letter, then up to 63 letters, digits, dots, underscores or hyphens, and no word such as constructor'

export function isName(value: unknown): value is string {
  return typeof value === 'string' && NAME_PATTERN.test(value) && !(value in Object.prototype)
}

export const nameSchema = z
  .string()
  .regex(NAME_PATTERN, { error: `must be ${NAME_RULE}` })
  .refine(name => !(name in Object.prototype), { error: `must be ${NAME_RULE}` })
