import type { RegisterFile } from './register.js'

/** Fields a register may carry that nothing is made of yet, by name, each once; only those present. */
export function unusedFields(file: RegisterFile): readonly string[] {
  const points = Object.values(file.points)
  const analyzers = points.flatMap(point => Object.values(point.analyzers))
  return [
    ...(file.related === undefined ? [] : ['related']),
    ...POINT_FIELDS.filter(field => points.some(point => point[field] !== undefined)),
    ...ANALYZER_FIELDS.filter(field => analyzers.some(analyzer => analyzer[field] !== undefined)),
  ]
}

const POINT_FIELDS = ['area', 'required', 'habitualDays'] as const
const ANALYZER_FIELDS = ['responseS', 'sampleLine', 'deadbandNtu'] as const
