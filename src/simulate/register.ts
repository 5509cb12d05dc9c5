import type { RegisterFile } from '../model/register.js'
import { DAY_MS } from '../model/time.js'
import {
  ACTION_LEVEL_NTU,
  CLASSES,
  FILTERS,
  GRAB_TIME_UNCERTAINTY_S,
  INTERVAL_S,
  PLANT_ID,
  PLANT_NAME,
  POINTS,
  PRIMARY_STANDARD,
  type SiteAnalyzer,
  type SitePoint,
} from './hollinWeir.js'

/** What the people of the invented plant have declared about it. */
export function hollinWeirRegister(startMs: number): RegisterFile {
  return {
    plant: PLANT_ID,
    name: PLANT_NAME,
    timeZone: 'Europe/London',
    falseAlarmBudget: { analyzerYearsPerFalseAlarm: 5 },
    latenessS: 120,
    shifts: ['06:00', '14:00', '22:00'],
    zeroRule: { zeroWaterBelowNtu: 40 },
    classes: {
      raw: classEntry('raw'),
      settled: classEntry('settled'),
      filter: { ...classEntry('filter'), lowIsWorse: true },
    },
    points: Object.fromEntries(POINTS.map(point => [point.id, pointEntry(point)])),
    related: [{ downstream: 'CFE', upstream: [...FILTERS] }],
    standards: [
      ...POINTS.flatMap(point => point.analyzers)
        .map(({ id, standard }) => ({
          id: standard.id,
          type: 'secondary_standard' as const,
          analyzer: id,
          assignedNtu: standard.assignedNtu,
          assignedOn: isoDay(startMs - 79 * DAY_MS),
        }))
        .sort((a, b) => (a.id < b.id ? -1 : 1)),
      {
        id: PRIMARY_STANDARD.id,
        type: 'primary_standard',
        assignedNtu: PRIMARY_STANDARD.assignedNtu,
        expires: isoDay(startMs + 200 * DAY_MS),
        standardUncertaintyNtu: PRIMARY_STANDARD.standardUncertaintyNtu,
        lot: PRIMARY_STANDARD.lot,
      },
    ],
  }
}

type PointEntry = RegisterFile['points'][string]

function classEntry(name: 'raw' | 'settled' | 'filter'): NonNullable<RegisterFile['classes']>[string] {
  const { tolerance, laboratory } = CLASSES[name]
  const { perNtu, ...uncertainties } = laboratory
  return {
    tolerance: { ...tolerance },
    grab: { ...uncertainties, timeUncertaintyS: GRAB_TIME_UNCERTAINTY_S, resolutionNtu: 1 / perNtu },
  }
}

function pointEntry(point: SitePoint): PointEntry {
  const site = CLASSES[point.class]
  return {
    ...(point.class === 'waste' ? { tolerance: { ...site.tolerance } } : { class: point.class }),
    name: point.name,
    area: point.area,
    ...(point.grabs === undefined ? {} : { grab: { perDay: point.grabs.perDay } }),
    ...(point.id === 'CFE'
      ? {
          actionLevelsNtu: [ACTION_LEVEL_NTU],
          use: ['regulated' as const],
          required: { calibrationDays: 90, basis: 'site procedure 12' },
        }
      : {}),
    habitualDays: point.class === 'raw' ? 14 : 30,
    analyzers: Object.fromEntries(point.analyzers.map(analyzer => [analyzer.id, analyzerEntry(point, analyzer)])),
  }
}

function analyzerEntry(point: SitePoint, analyzer: SiteAnalyzer): PointEntry['analyzers'][string] {
  const { rangeNtu, perNtu } = CLASSES[point.class]
  return {
    unit: 'NTU',
    intervalS: INTERVAL_S,
    rangeNtu: [...rangeNtu],
    transportDelayS: analyzer.transportDelayS,
    sampleLine: analyzer.sampleLine,
    serial: analyzer.serial,
    resolutionNtu: 1 / perNtu,
    ...(analyzer.reports === 'flow' ? { minFlowLMin: 0.3 } : {}),
  }
}

function isoDay(atMs: number): string {
  return new Date(atMs).toISOString().slice(0, 10)
}
