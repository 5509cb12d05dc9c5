import type { OutboxRow, Store } from '../../src/adapters/sqliteStore.js'

/** The part of a store that an outbox uses, in memory: numbered events, as many as a test says. */
export function memoryOutbox(count: number) {
  let total = count
  const cursors = new Map<string, number>()
  const aside = new Map<string, Map<number, string>>()
  const store = {
    outboxAfter: (seq, limit) => numbers(Math.min(total, seq + limit), seq + 1).map(row),
    cursor: name => cursors.get(name) ?? 0,
    moveCursor: (name, seq) => void cursors.set(name, seq),
    newestEvent: () => total,
    setAside: (name, seq, reason) => {
      aside.set(name, (aside.get(name) ?? new Map<number, string>()).set(seq, reason))
    },
    setAsideTotal: name => aside.get(name)?.size ?? 0,
  } satisfies Partial<Store>
  return {
    ...store,
    cursors: cursors as ReadonlyMap<string, number>,
    asideFor: (name: string): readonly number[] => [...(aside.get(name)?.keys() ?? [])],
    grow: (to: number) => (total = to),
  }
}

export function numbers(last: number, first = 1): number[] {
  return Array.from({ length: Math.max(0, last - first + 1) }, (_, index) => first + index)
}

function row(n: number): OutboxRow {
  return { seq: n, id: `e${n}`, type: 't', subject: 's', body: `{"n":${n}}` }
}
