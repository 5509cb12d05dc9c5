import type { Store } from '../adapters/sqliteStore.js'
import type { CloudEvent } from '../model/cloudEvent.js'
import type { PlantEvent } from '../model/events.js'

const PAGE = 1_000

/** Every event of a store as the core made it, in the order they were made. */
export function outboxEvents(store: Pick<Store, 'outboxAfter'>): PlantEvent[] {
  const events: PlantEvent[] = []
  for (let rows = store.outboxAfter(0, PAGE); rows.length > 0; rows = store.outboxAfter(rows.at(-1)!.seq, PAGE)) {
    for (const row of rows) {
      const { id, source, subject, time, data } = JSON.parse(row.body) as CloudEvent
      events.push({ id, type: row.type, source, subject, time, data } as PlantEvent)
    }
  }
  return events
}
