import type { Store } from '../adapters/sqliteStore.js'

/**
 * The journal as lines, one recorded input each (canonical JSON, without line end): messages as they came, registers
 * and ticks, in the order they were taken. A replay of these lines gives the events of the service, byte for byte.
 */
export function* exportJournal(store: Pick<Store, 'journalAfter'>): Generator<string> {
  for (const row of store.journalAfter(0)) yield row.input
}
