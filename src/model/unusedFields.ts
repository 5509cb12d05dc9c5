import type { RegisterFile } from './register.js'

/** Fields a register may carry that nothing is made of yet, by name, each once; only those present. */
export function unusedFields(file: RegisterFile): readonly string[] {
  const analyzers = Object.values(file.points).flatMap(point => Object.values(point.analyzers))
  return ANALYZER_FIELDS.filter(field => analyzers.some(analyzer => analyzer[field] !== undefined))
}

const ANALYZER_FIELDS = ['responseS'] as const
