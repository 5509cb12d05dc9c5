import type { Store } from '../adapters/sqliteStore.js'
import type { PlantEvent } from '../model/events.js'
import type { RecordedInput } from '../model/recordedInput.js'
import type { Core } from './plantRunner.js'

/**
 * The state of a plant as of the end of its journal: the last one saved, then the journal after it through the same
 * step. Events made again on the way have the ids they had the first time.
 * @param remade takes the events of each input that is stepped again
 */
export function recoverState<S>(
  core: Core<S>,
  store: Pick<Store, 'stateRows' | 'stateSeq' | 'journalAfter'>,
  plant: string,
  remade: (events: readonly PlantEvent[]) => void = () => {},
): S {
  const rows = store.stateRows()
  let state = rows.size === 0 ? core.create(plant) : core.restore(rows)
  for (const row of store.journalAfter(store.stateSeq())) {
    const stepped = core.step(state, JSON.parse(row.input) as RecordedInput)
    state = stepped.state
    if (stepped.events.length > 0) remade(stepped.events)
  }
  return state
}
