import type { StandardType } from './messages.js'
import type { Criterion } from './publishedRules.js'
import type { RegisterFile } from './register.js'
import type { Tolerance } from './tolerance.js'
import type { Method, Unit } from './units.js'

/** The register with every default filled in and every inheritance resolved: what the core reads. Plain data. */
export interface Plant {
  readonly plant: string
  readonly name: string
  readonly timeZone: string
  readonly analyzerYearsPerFalseAlarm: number
  /** Bias that is normal and bias the charts are tuned to, in tolerances. */
  readonly delta0: number
  readonly delta1: number
  readonly latenessMs: number
  /** Minutes after local midnight, ascending. */
  readonly shiftStartsMin: readonly number[]
  readonly zeroWaterBelowNtu: number
  readonly secondaryStandardUsualNtu: readonly [number, number]
  readonly settlingCapMs: number
  readonly maintenanceForgottenMs: number
  readonly visitMinutes: number
  readonly points: ReadonlyMap<string, Point>
  readonly analyzers: ReadonlyMap<string, Analyzer>
  readonly related: readonly { readonly downstream: string; readonly upstream: readonly string[] }[]
  readonly standards: readonly RegisteredStandard[]
  readonly feeds: NonNullable<RegisterFile['feeds']>
}

export interface Point {
  readonly id: string
  readonly name: string
  readonly area: string | undefined
  readonly tolerance: Tolerance
  readonly lowIsWorse: boolean
  readonly grab: GrabPlan
  readonly actionLevelsNtu: readonly number[]
  readonly regulated: boolean
  readonly controlling: boolean
  readonly required:
    { readonly verificationDays?: number; readonly calibrationDays?: number; readonly basis: string } | undefined
  readonly habitualDays: number | undefined
  /** Published criteria it is compared with, and the site's own rule in its own words. */
  readonly criteria: readonly Criterion[]
  readonly basis: string | undefined
  /** Ids in alphabetical order: the order of every per-unit array. */
  readonly analyzers: readonly string[]
}

export interface GrabPlan {
  readonly standardUncertaintyNtu: number
  readonly relative: number
  readonly sharedStandardUncertaintyNtu: number
  readonly timeUncertaintyS: number
  readonly perDay: number
  readonly resolutionNtu: number
  /** How results of another method relate to this point's, where that is known. */
  readonly correlation?: Readonly<Partial<Record<Method, Correlation>>>
}

/** value of our method = slope · value of theirs + interceptNtu, found at this point. */
export interface Correlation {
  readonly slope: number
  readonly interceptNtu?: number
  readonly relativeStandardUncertainty?: number
  /** Where the relation comes from. */
  readonly basis: string
}

export interface Analyzer {
  readonly id: string
  readonly point: string
  readonly unit: Unit
  readonly method: Method
  readonly tolerance: Tolerance
  readonly intervalS: number
  readonly rangeNtu: readonly [number, number]
  readonly transportDelayS: number
  readonly responseS: number
  readonly sampleLine: string | undefined
  readonly serial: string | undefined
  readonly resolutionNtu: number
  readonly minFlowLMin: number | undefined
  readonly asLeftLimit: number
  readonly transmission:
    | { readonly mode: 'periodic' }
    | { readonly mode: 'on_change'; readonly deadbandNtu: number; readonly heartbeatS: number }
}

export interface RegisteredStandard {
  readonly id: string
  readonly type: StandardType
  readonly analyzer: string | undefined
  readonly assignedNtu: number
  readonly assignedOn: string | undefined
  readonly expires: string | undefined
  readonly standardUncertaintyNtu: number | undefined
  readonly lot: string | undefined
}

const DEFAULT_TOLERANCE: Tolerance = { absoluteNtu: 0.05, relative: 0.1 }
const DEFAULT_GRAB: GrabPlan = {
  standardUncertaintyNtu: 0.01,
  relative: 0.03,
  sharedStandardUncertaintyNtu: 0.01,
  timeUncertaintyS: 120,
  perDay: 2,
  resolutionNtu: 0,
}

/** Fills in defaults and inheritance. The file must have passed `registerFaults` of checkRegister.ts. */
export function resolvePlant(file: RegisterFile): Plant {
  const points = new Map<string, Point>()
  const analyzers = new Map<string, Analyzer>()
  for (const id of Object.keys(file.points).sort()) {
    const stated = file.points[id]!
    const point = resolvePoint(file, id, stated)
    points.set(id, point)
    for (const unitId of point.analyzers) {
      analyzers.set(unitId, resolveAnalyzer(point, unitId, stated.analyzers[unitId]!))
    }
  }
  return {
    plant: file.plant,
    name: file.name ?? file.plant,
    timeZone: file.timeZone ?? 'UTC',
    analyzerYearsPerFalseAlarm: file.falseAlarmBudget?.analyzerYearsPerFalseAlarm ?? 5,
    delta0: file.detection?.delta0 ?? 0.25,
    delta1: file.detection?.delta1 ?? 0.6,
    latenessMs: (file.latenessS ?? 120) * 1_000,
    shiftStartsMin: (file.shifts ?? ['06:00', '14:00', '22:00']).map(minutesOfDay).sort((a, b) => a - b),
    zeroWaterBelowNtu: file.zeroRule?.zeroWaterBelowNtu ?? 40,
    secondaryStandardUsualNtu: file.secondaryStandardUsualNtu ?? [30, 40],
    settlingCapMs: (file.settling?.capHours ?? 6) * 3_600_000,
    visitMinutes: file.visitMinutes ?? 60,
    maintenanceForgottenMs: (file.settling?.maintenanceHours ?? 8) * 3_600_000,
    points,
    analyzers,
    related: file.related ?? [],
    standards: (file.standards ?? []).map(standard => ({
      id: standard.id,
      type: standard.type,
      analyzer: standard.analyzer,
      assignedNtu: standard.assignedNtu,
      assignedOn: standard.assignedOn,
      expires: standard.expires,
      standardUncertaintyNtu: standard.standardUncertaintyNtu,
      lot: standard.lot,
    })),
    feeds: file.feeds ?? [],
  }
}

function resolvePoint(file: RegisterFile, id: string, stated: RegisterFile['points'][string]): Point {
  const fromClass = stated.class === undefined ? undefined : file.classes?.[stated.class]
  return {
    id,
    name: stated.name ?? id,
    area: stated.area,
    tolerance: stated.tolerance ?? fromClass?.tolerance ?? DEFAULT_TOLERANCE,
    lowIsWorse: stated.lowIsWorse ?? fromClass?.lowIsWorse ?? false,
    grab: { ...DEFAULT_GRAB, ...fromClass?.grab, ...stated.grab } as GrabPlan,
    actionLevelsNtu: stated.actionLevelsNtu ?? [],
    regulated: stated.use?.includes('regulated') ?? false,
    controlling: stated.use?.includes('controlling') ?? false,
    required: stated.required as Point['required'],
    habitualDays: stated.habitualDays,
    criteria: stated.criteria ?? [],
    basis: stated.basis,
    analyzers: Object.keys(stated.analyzers).sort(),
  }
}

function resolveAnalyzer(
  point: Point,
  id: string,
  stated: RegisterFile['points'][string]['analyzers'][string],
): Analyzer {
  return {
    id,
    point: point.id,
    unit: stated.unit,
    method: stated.unit === 'FAU' ? 'FAU' : stated.unit.endsWith('FNU') ? 'FNU' : 'NTU',
    tolerance: stated.tolerance ?? point.tolerance,
    intervalS: stated.intervalS ?? 60,
    rangeNtu: stated.rangeNtu ?? [0, 1_000],
    transportDelayS: stated.transportDelayS ?? 0,
    responseS: stated.responseS ?? 0,
    sampleLine: stated.sampleLine,
    serial: stated.serial,
    resolutionNtu: stated.resolutionNtu ?? 0.001,
    minFlowLMin: stated.minFlowLMin,
    asLeftLimit: stated.asLeftLimit ?? 0.05,
    transmission:
      stated.transmission === 'on_change'
        ? { mode: 'on_change', deadbandNtu: stated.deadbandNtu ?? 0, heartbeatS: stated.heartbeatS ?? 3_600 }
        : { mode: 'periodic' },
  }
}

function minutesOfDay(clock: string): number {
  return Number(clock.slice(0, 2)) * 60 + Number(clock.slice(3, 5))
}
