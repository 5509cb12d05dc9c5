import type { CaseEnd, UnitFold } from './pointState.js'

/** Forgets what work did not help with, and ends the request about the unit's bias where one is open. */
export function endBias(unit: UnitFold, ended: CaseEnd): void {
  unit.failed = []
  unit.zeroWaterSuspect = false
  if (unit.case?.kind !== 'bias') return
  unit.case = null
  unit.ended = ended
}
