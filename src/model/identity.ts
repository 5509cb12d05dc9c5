import { createHash } from 'node:crypto'
import { v5 } from 'uuid'

/** Namespace of all ids, made once for this project (a random UUID). */
const PROJECT_NAMESPACE = '0c5c5a6e-58b1-4f0e-9f0e-6f6a3f1d7b52'

/** UUIDv5 (RFC 9562 §5.5) namespace of one plant: the same register name gives the same ids on every machine. */
export function plantNamespace(plant: string): string {
  let known = namespaces.get(plant)
  if (known === undefined) {
    known = v5(`plant:${plant}`, PROJECT_NAMESPACE)
    namespaces.set(plant, known)
  }
  return known
}

/** Every event asks for the one of its plant. */
const namespaces = new Map<string, string>()

/** Id of the n-th recommendation for a target. */
export function recommendationId(plant: string, target: string, counter: number): string {
  return v5(`recommendation:${target}:${String(counter)}`, plantNamespace(plant))
}

/** Id of an event: what it is about, its type, and how many of that kind came before. */
export function eventId(plant: string, about: string, type: string, counter: number): string {
  return v5(`event:${about}:${type}:${String(counter)}`, plantNamespace(plant))
}

/** SHA-256 of text, first 16 hex digits: enough to tell contents and registers apart. */
export function contentHash(text: string): string {
  return createHash('sha256').update(text).digest('hex').slice(0, 16)
}
