import type { StandardType, Work } from '../model/messages.js'
import type { Analyzer } from '../model/plant.js'
import { kept } from '../model/rounding.js'
import { DAY_MS } from '../model/time.js'
import { toleranceAt } from '../model/tolerance.js'
import { toWholeUnit } from '../model/units.js'
import type { Exclusion } from '../model/vocabulary.js'

/**
 * What an analyzer read on a reference before anything was adjusted, beside what the reference is worth. An adjusting
 * record tells of the state before it: whoever asks for the present state takes what is younger than the last adjustment.
 */
export interface Verification {
  readonly atMs: number
  readonly type: StandardType
  readonly standard: string | null
  readonly assignedNtu: number
  /** As found, after cleaning where that was read as well. */
  readonly foundNtu: number
  /** A film on the window no longer shows in it. */
  readonly isClean: boolean
  /** Standard uncertainty of this one reading, and of the reference, which is the same each time it is used. NTU. */
  readonly uNtu: number
  readonly referenceUNtu: number
  /** At the assigned value. */
  readonly toleranceNtu: number
  /** Greatest difference at which nothing has to be adjusted. */
  readonly limitNtu: number
  /** A secondary standard tells of what changed since its value was assigned on this analyzer; null: absolute. */
  readonly anchoredMs: number | null
  /** `used`, or why it is no evidence. */
  readonly use: 'used' | Exclusion
}

/** Zero water itself reads 0.01 to 0.03 NTU (common practice, no source). */
const ZERO_WATER_U_NTU = 0.02
/** Shares of the value where nobody states an uncertainty (common practice, no source). */
const SECONDARY_U = 0.01
const PRIMARY_U = 0.02
/** A cell set into its holder again does not read quite the same (common practice, no source). */
const REPEAT_U = 0.01
/** A dark response sees neither stray light nor a film: so much of the tolerance at zero is left open. */
const DARK_U_OF_TOLERANCE = 0.25
/** The standard deviation of rounding to a step, over the step. */
const ROUNDING = 1 / Math.sqrt(12)

/** What register and work records know of the reference that a record names. */
export interface ReferenceKnown {
  /** When a secondary standard was assigned on this analyzer; undefined where nobody stated it. */
  readonly assignedMs: number | undefined
  readonly standardUncertaintyNtu: number | undefined
  /** How far a reading in it may be from its value. */
  readonly limitNtu: number
}

/**
 * @param against what in the record or its reference speaks against it
 * @returns undefined where the record holds no as found on a reference
 */
export function verificationOf(
  work: Work,
  analyzer: Analyzer,
  known: ReferenceKnown,
  against: Exclusion | undefined,
): Verification | undefined {
  const { reference } = work
  const found = work.asFoundClean ?? work.asFound
  if (reference === undefined || found === undefined || work.action === 'standard_assigned') return undefined
  const assignedNtu = toWholeUnit(reference.assigned, analyzer.unit)
  const toleranceNtu = toleranceAt(analyzer.tolerance, assignedNtu)
  const stated =
    reference.standardUncertainty === undefined
      ? known.standardUncertaintyNtu
      : toWholeUnit(reference.standardUncertainty, analyzer.unit)
  const u = uncertaintyOf(reference.type, assignedNtu, stated, toleranceNtu)
  const repeat = Math.max(REPEAT_U * assignedNtu, ROUNDING * analyzer.resolutionNtu)
  const isSecondary = reference.type === 'secondary_standard'
  // A day in the register says no hour: an assignment on the same day came before.
  const isAssigned = known.assignedMs !== undefined && known.assignedMs < work.atMs + DAY_MS
  return {
    atMs: work.atMs,
    type: reference.type,
    standard: reference.id ?? null,
    assignedNtu: kept(assignedNtu),
    foundNtu: kept(toWholeUnit(found, analyzer.unit)),
    isClean: work.asFoundClean !== undefined,
    uNtu: kept(Math.sqrt(repeat * repeat + u.fresh * u.fresh)),
    referenceUNtu: kept(u.lasting),
    toleranceNtu: kept(toleranceNtu),
    limitNtu: kept(known.limitNtu),
    anchoredMs: isSecondary && isAssigned ? Math.min(known.assignedMs, work.atMs) : null,
    use: against ?? (isSecondary && !isAssigned ? 'standard_unassigned' : 'used'),
  }
}

/** Of the reference: made anew each time (zero water, the dark), or the same one used again. */
function uncertaintyOf(
  type: StandardType,
  assignedNtu: number,
  stated: number | undefined,
  toleranceNtu: number,
): { readonly fresh: number; readonly lasting: number } {
  switch (type) {
    case 'zero_water':
      return { fresh: Math.max(ZERO_WATER_U_NTU, stated ?? 0), lasting: 0 }
    case 'source_off':
      return { fresh: Math.max(DARK_U_OF_TOLERANCE * toleranceNtu, stated ?? 0), lasting: 0 }
    case 'secondary_standard':
      return { fresh: 0, lasting: stated ?? SECONDARY_U * assignedNtu }
    case 'primary_standard':
      return { fresh: 0, lasting: stated ?? PRIMARY_U * assignedNtu }
  }
}

/** Found minus assigned, tolerances at the assigned value. */
export function foundOfTolerance({ foundNtu, assignedNtu, toleranceNtu }: Verification): number {
  return (foundNtu - assignedNtu) / toleranceNtu
}

/** Standard uncertainty of that, the reference's own included. */
export function foundUOfTolerance({ uNtu, referenceUNtu, toleranceNtu }: Verification): number {
  return Math.sqrt(uNtu * uNtu + referenceUNtu * referenceUNtu) / toleranceNtu
}

/**
 * The newest as found on each kind of reference since an instant that is outside its limit. It counts as a signal but
 * takes no share of the false-alarm budget: it has no chart, and a case opens only where the posterior, which knows how
 * well the reference is known, and a second piece of evidence agree.
 */
export function foundOutside(verifications: readonly Verification[], sinceMs: number): Verification | undefined {
  const newest = new Map<StandardType, Verification>()
  for (const one of verifications) if (one.use === 'used' && one.atMs > sinceMs) newest.set(one.type, one)
  return [...newest.values()].find(one => Math.abs(one.foundNtu - one.assignedNtu) > one.limitNtu)
}
