import { type DaylightState, newDaylightState } from './daylight.js'
import { type DisplayState, newDisplayState } from './display.js'
import { type FactorState, newFactorState } from './exactFactor.js'
import { type LagState, newLagState } from './lag.js'
import { newNoiseState, type NoiseState } from './noise.js'

/** What the fold keeps of a unit for signs that no log of its point would show later. Plain data. */
export interface UnitSigns {
  readonly daylight: DaylightState
  readonly factor: FactorState
  readonly display: DisplayState
  readonly lag: LagState
  readonly noise: NoiseState
}

export function newUnitSigns(): UnitSigns {
  return {
    daylight: newDaylightState(),
    factor: newFactorState(),
    display: newDisplayState(),
    lag: newLagState(),
    noise: newNoiseState(),
  }
}
