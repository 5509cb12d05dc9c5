import { createPlantState, step } from '../../../src/core/step.js'
import type { PlantState } from '../../../src/core/plantState.js'
import type { PlantEvent } from '../../../src/model/events.js'
import { type Fleet } from './fleet.js'
import { fleetInputs } from './fleetMessages.js'

/**
 * Walks a fleet through the core.
 * @param onEvent called with each event and the state after it; the state may be read, not kept
 */
export function watchFleet(
  fleet: Fleet,
  onEvent: (event: PlantEvent, state: PlantState) => void,
  atEnd?: (state: PlantState) => void,
): void {
  let state = createPlantState(`fleet-${String(fleet.seed)}`)
  for (const input of fleetInputs(fleet)) {
    const stepped = step(state, input)
    state = stepped.state
    for (const event of stepped.events) onEvent(event, state)
  }
  atEnd?.(state)
}
