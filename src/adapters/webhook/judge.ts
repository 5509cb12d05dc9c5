import { NotTaken } from '../handover.js'
import type { Answer } from './post.js'

/** `refused`: the receiver understood us and does not want this event. */
export type Verdict =
  | { readonly kind: 'taken' }
  | { readonly kind: 'refused'; readonly reason: string }
  | { readonly kind: 'later'; readonly error: NotTaken }

const GONE = 410
/** Of the 4xx these say nothing about the event: request time-out, too early, too many requests (RFC 9110, 8470, 6585). */
const NOT_ABOUT_THE_EVENT: ReadonlySet<number> = new Set([408, 425, 429])
const LONGEST_RETRY_AFTER_MS = 86_400_000

/** What an answer means: Standard Webhooks 1.0.0, "Delivery success and failure"; CloudEvents webhooks 1.0.2 §2.2. */
export function judge({ status, retryAfter }: Answer, nowMs: number): Verdict {
  if (status >= 200 && status < 300) return { kind: 'taken' }
  const said = `the receiver answered ${status}`
  if (status === GONE) {
    return later(`${said}, gone: it wants no more events; take it out of the connections or correct its url`, {
      forGood: true,
    })
  }
  if (status >= 300 && status < 400) return later(`${said}, and redirects are not followed: give its final url`)
  if (status >= 400 && status < 500 && !NOT_ABOUT_THE_EVENT.has(status)) return { kind: 'refused', reason: said }
  const retryAfterMs = retryAfter === undefined ? undefined : retryAfterOf(retryAfter, nowMs)
  return later(said, retryAfterMs === undefined ? {} : { retryAfterMs })
}

function later(message: string, more: ConstructorParameters<typeof NotTaken>[1] = {}): Verdict {
  return { kind: 'later', error: new NotTaken(message, more) }
}

/** Seconds or a date (RFC 9110 §10.2.3); a day at most, so that a slip of the receiver silences it no longer. */
function retryAfterOf(text: string, nowMs: number): number | undefined {
  const afterMs = /^\d+$/.test(text) ? Number(text) * 1_000 : Date.parse(text) - nowMs
  return Number.isNaN(afterMs) ? undefined : Math.min(LONGEST_RETRY_AFTER_MS, Math.max(0, afterMs))
}
