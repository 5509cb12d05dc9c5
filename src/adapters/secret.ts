import { readFileSync } from 'node:fs'
import { resolve } from 'node:path'
import { z } from 'zod'

/**
 * A password or key at run time. It is behind a function, so that no log line, JSON text or inspection of an object
 * that holds it can show it.
 */
export interface Secret {
  readonly reveal: () => string
}

export function secretOf(text: string): Secret {
  return { reveal: () => text }
}

const VARIABLE = /^[A-Za-z_][A-Za-z0-9_]{0,127}$/

/** How a file says where a secret stands; the secret itself is refused. */
export const secretSchema = z
  .union(
    [z.strictObject({ env: z.string().regex(VARIABLE) }), z.strictObject({ file: z.string().min(1).max(1_000) })],
    { error: 'must be { env: NAME } or { file: PATH }: a secret itself never stands here' },
  )
  .describe('where the secret stands: { env: NAME } or { file: PATH }')

export type SecretPlace = z.infer<typeof secretSchema>

export type ReadSecret =
  { readonly ok: true; readonly secret: Secret } | { readonly ok: false; readonly problem: string }

/**
 * Takes a secret from the environment or from a file, whose last line end does not belong to it.
 * @param folder relative paths are looked for here
 */
export function readSecret(
  place: SecretPlace,
  folder: string,
  environment: Readonly<Record<string, string | undefined>>,
): ReadSecret {
  if ('env' in place) {
    const text = environment[place.env]
    if (text !== undefined && text !== '') return { ok: true, secret: secretOf(text) }
    return { ok: false, problem: `the environment variable ${place.env} is not set` }
  }
  const path = resolve(folder, place.file)
  try {
    const text = readFileSync(path, 'utf8').replace(/\r?\n$/, '')
    return text === '' ? { ok: false, problem: `${path} is empty` } : { ok: true, secret: secretOf(text) }
  } catch (error) {
    return { ok: false, problem: `${path} cannot be read: ${(error as NodeJS.ErrnoException).code ?? 'unknown error'}` }
  }
}
