import { EXCLUSIONS, type Exclusion, type ExclusionCounts } from '../model/vocabulary.js'

/** Reasons with their counts, largest first; equal counts in the order of the vocabulary. */
export function entriesOf(counts: ExclusionCounts): readonly (readonly [Exclusion, number])[] {
  return EXCLUSIONS.map(reason => [reason, counts[reason] ?? 0] as const)
    .filter(([, count]) => count > 0)
    .sort(([, a], [, b]) => b - a)
}
