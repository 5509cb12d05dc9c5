import { dueTick } from '../core/eventClock.js'
import type { PlantState } from '../core/plantState.js'
import { restorePlant, serialisePlant } from '../core/serialise.js'
import { createPlantState, step } from '../core/step.js'
import { seriesWatch } from '../core/seriesWatch.js'
import type { Core } from './plantRunner.js'

/** The core as the service walks it. */
export const PLANT_CORE: Core<PlantState> = {
  create: createPlantState,
  step: (state, input, series) => step(state, input, series === undefined ? undefined : seriesWatch(series)),
  dueTick,
  serialise: serialisePlant,
  restore: restorePlant,
}
