import type { Connections } from '../adapters/connectionsFile.js'

/** Texts as short as this stand everywhere by chance; nobody should have such a password. */
const SHORTEST = 4
const HIDDEN = '[hidden]'

/**
 * The second line of defence for what is written for people: takes every secret of the connections out of a text,
 * should a library have put one into an error. The first is that nobody hands one on.
 */
export function secretGuard(connections: Connections): (text: string) => string {
  const secrets = secretsIn(connections).filter(secret => secret.length >= SHORTEST)
  const written = secrets.flatMap(secret => [secret, JSON.stringify(secret).slice(1, -1), encodeURIComponent(secret)])
  // The longest first: one secret may be the beginning of another.
  const texts = [...new Set(written)].sort((a, b) => b.length - a.length)
  return text => texts.reduce((left, secret) => left.replaceAll(secret, HIDDEN), text)
}

function secretsIn(value: unknown): string[] {
  if (typeof value !== 'object' || value === null) return []
  if ('reveal' in value && typeof value.reveal === 'function') return [(value as { reveal: () => string }).reveal()]
  const members = value instanceof Map ? [...value.values()] : Object.values(value)
  return members.flatMap(secretsIn)
}
