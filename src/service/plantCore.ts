import { dueTick } from '../core/eventClock.js'
import type { PlantState } from '../core/plantState.js'
import { restorePlant, serialisePlant } from '../core/serialise.js'
import { createPlantState, step } from '../core/step.js'
import type { Core } from './plantRunner.js'

/** The core as the service walks it. */
export const PLANT_CORE: Core<PlantState> = {
  create: createPlantState,
  step,
  dueTick,
  serialise: serialisePlant,
  restore: restorePlant,
}
