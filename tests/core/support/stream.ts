import type { RegisterFile } from '../../../src/model/register.js'
import { DAY_MS, formatInstant, HOUR_MS, MINUTE_MS, SECOND_MS } from '../../../src/model/time.js'
import { type Random, seeded } from './random.js'

/** A message on the wire, as a feed hands it over. */
export type Wire = Readonly<Record<string, unknown>> & { readonly kind: string }

/** A message with the time it is about and the time it comes in. */
export interface Sent {
  readonly atMs: number
  readonly comesMs: number
  readonly message: Wire
}

export const START_MS = Date.UTC(2026, 3, 1)

export function at(days: number, hours = 0, minutes = 0): number {
  return START_MS + days * DAY_MS + hours * HOUR_MS + minutes * MINUTE_MS
}

export interface StreamPlan {
  readonly register: RegisterFile
  readonly seed: number
  readonly days: number
  /** Begin of the readings; default START_MS. */
  readonly fromMs?: number
  /** NTU added to what an analyzer reads. */
  readonly error?: (analyzer: string, atMs: number) => number
  /** False where the analyzer sends nothing. */
  readonly sends?: (analyzer: string, atMs: number) => boolean
  /** NTU added to a laboratory result. */
  readonly grabError?: (point: string, atMs: number) => number
  readonly grabsPerDay?: number
  /** Members added to a reading. */
  readonly extra?: (analyzer: string, atMs: number) => Record<string, unknown>
  /** Further messages. */
  readonly also?: readonly Sent[]
}

/** Readings of every analyzer and grab samples at every point; each comes half a minute after its own time. */
export function makeStream(plan: StreamPlan): readonly Sent[] {
  const random = seeded(plan.seed)
  const endMs = START_MS + plan.days * DAY_MS
  const sent: Sent[] = []
  Object.entries(plan.register.points).forEach(([point, { analyzers }], p) => {
    const levelNtu = makeLevel(0.2 + 0.15 * p, random)
    Object.entries(analyzers).forEach(([analyzer, { intervalS = 60 }], i) => {
      const phaseMs = (7 * p + 13 * i) * SECOND_MS
      for (let atMs = START_MS + phaseMs; atMs < endMs; atMs += intervalS * SECOND_MS) {
        if (atMs < (plan.fromMs ?? START_MS)) continue
        const value = levelNtu(atMs) + (plan.error?.(analyzer, atMs) ?? 0) + 0.004 * random.normal()
        if (plan.sends?.(analyzer, atMs) === false) continue
        sent.push(prompt(atMs, reading(analyzer, atMs, value, plan.extra?.(analyzer, atMs))))
      }
    })
    const everyMs = DAY_MS / (plan.grabsPerDay ?? 4)
    let n = 0
    for (let slotMs = START_MS + 3 * HOUR_MS; slotMs < endMs - HOUR_MS; slotMs += everyMs) {
      const atMs = slotMs + random.below(90) * MINUTE_MS
      const value = levelNtu(atMs) + (plan.grabError?.(point, atMs) ?? 0) + 0.006 * random.normal()
      n += 1
      sent.push(prompt(atMs, grab(point, atMs, value, `${point}-${String(n)}`)))
    }
  })
  return inOrder([...sent, ...(plan.also ?? [])])
}

export function prompt(atMs: number, message: Wire): Sent {
  return { atMs, comesMs: atMs + 30 * SECOND_MS, message }
}

/** By the time of coming in, then by text, so that the order never hangs on how the list was made. */
export function inOrder(sent: readonly Sent[]): readonly Sent[] {
  return sent
    .map(one => ({ one, text: JSON.stringify(one.message) }))
    .sort((a, b) => a.one.comesMs - b.one.comesMs || (a.text < b.text ? -1 : 1))
    .map(({ one }) => one)
}

export function reading(analyzer: string, atMs: number, value: number, extra: Record<string, unknown> = {}): Wire {
  const rounded = Math.round(value * 1_000) / 1_000
  return { kind: 'reading', analyzer, time: new Date(atMs).toISOString(), value: rounded, unit: 'NTU', ...extra }
}

export function grab(
  point: string,
  atMs: number,
  value: number,
  sampleId: string,
  extra: Record<string, unknown> = {},
): Wire {
  const rounded = Math.round(value * 1_000) / 1_000
  return { kind: 'grab', point, sampled: formatInstant(atMs), value: rounded, unit: 'NTU', sampleId, ...extra }
}

export function work(analyzer: string, atMs: number, action: string, extra: Record<string, unknown> = {}): Wire {
  return { kind: 'work', analyzer, time: formatInstant(atMs), action, ...extra }
}

/** A level that wanders between 0.8 and 1.2 of its base, a different way at each point. */
function makeLevel(baseNtu: number, random: Random): (atMs: number) => number {
  const knots = Array.from({ length: 200 }, () => baseNtu * (0.8 + 0.4 * random.uniform()))
  return atMs => {
    const x = (atMs - START_MS) / (6 * HOUR_MS)
    const k = Math.floor(x)
    const from = knots[k % knots.length] ?? baseNtu
    const to = knots[(k + 1) % knots.length] ?? baseNtu
    return from + (to - from) * (x - k)
  }
}
