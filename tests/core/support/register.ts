import type { RegisterFile } from '../../../src/model/register.js'

type AnalyzerFile = RegisterFile['points'][string]['analyzers'][string]

const UNIT: AnalyzerFile = { unit: 'NTU', rangeNtu: [0, 10], resolutionNtu: 0.001 }

/**
 * A small invented plant: FE1 with one unit, CFE with two, SW with one. `points` picks some of them; three points
 * are too few for the laboratory to be named, so that what is tested stays with the analyzers.
 */
export function smallRegister(
  points: readonly ('FE1' | 'CFE' | 'SW')[] = ['FE1', 'CFE'],
  changes: Partial<RegisterFile> = {},
  intervalS = 300,
): RegisterFile {
  const unit = { ...UNIT, intervalS }
  const all: RegisterFile['points'] = {
    FE1: { class: 'filter', analyzers: { 'FE1-A': unit }, grab: { perDay: 4 } },
    CFE: {
      class: 'filter',
      use: ['regulated'],
      actionLevelsNtu: [0.3],
      grab: { perDay: 4 },
      analyzers: { 'CFE-A': { ...unit, serial: 'A-1' }, 'CFE-B': { ...unit, serial: 'B-1' } },
    },
    SW: { tolerance: { absoluteNtu: 0.1, relative: 0.1 }, grab: { perDay: 4 }, analyzers: { 'SW-A': unit } },
  }
  return {
    plant: 'small-plant',
    name: 'Small plant',
    classes: { filter: { tolerance: { absoluteNtu: 0.05, relative: 0.1 }, lowIsWorse: true } },
    points: Object.fromEntries(points.map(point => [point, all[point]!])),
    ...changes,
  }
}
