import { dueTick } from '../core/eventClock.js'
import { createPlantState, type PlantState } from '../core/plantState.js'
import { step } from '../core/step.js'
import { canonicalJson } from '../model/canonicalJson.js'
import { toCloudEvent } from '../model/cloudEvent.js'
import type { PlantEvent } from '../model/events.js'
import type { ReplayCore } from '../service/replay.js'
import { EVENT_TYPE_PREFIX, SOFTWARE_VERSION } from '../service/version.js'

/** The core as a replay walks it. */
export const REPLAY_CORE: ReplayCore<PlantState, PlantEvent> = { create: createPlantState, step, dueTick }

/** An event as the line that is written of it. */
export function eventLine(event: PlantEvent): string {
  return canonicalJson(toCloudEvent(event, EVENT_TYPE_PREFIX, SOFTWARE_VERSION))
}
