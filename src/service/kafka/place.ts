/**
 * How far a partition has been worked: the next offset of each topic, and the number of the next tick. Places of one
 * partition only ever grow, all three parts together, so any two of them can be compared.
 */
export interface Place {
  readonly in: number
  readonly rekeyed: number
  readonly tick: number
}

export type PlaceTopic = 'in' | 'rekeyed'

/**
 * One thing that was worked: a stretch of a topic, `to` not included, or a tick of the machine's clock. In the order
 * of working they say how to come from one place to a later one again, for two topics and a clock have no order.
 */
export type Turn =
  | { readonly topic: PlaceTopic; readonly from: number; readonly to: number }
  | { readonly tick: number; readonly time: string; readonly feedsDown: readonly string[] }

export function comparePlaces(a: Place, b: Place): number {
  return a.in - b.in || a.rekeyed - b.rekeyed || a.tick - b.tick
}

/** Adds that the offsets `[from, to)` were worked; a stretch that goes on from the last is made longer. */
export function addStretch(turns: Turn[], topic: PlaceTopic, from: number, to: number): void {
  const last = turns.at(-1)
  if (last !== undefined && 'topic' in last && last.topic === topic && last.to === from) {
    turns[turns.length - 1] = { topic, from: last.from, to }
  } else turns.push({ topic, from, to })
}

/** The turns after a place. */
export function turnsAfter(turns: readonly Turn[], place: Place): Turn[] {
  return turns.flatMap<Turn>(turn => {
    if ('tick' in turn) return turn.tick >= place.tick ? [turn] : []
    const from = Math.max(turn.from, place[turn.topic])
    return from < turn.to ? [{ ...turn, from }] : []
  })
}
