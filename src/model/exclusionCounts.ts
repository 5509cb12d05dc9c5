import type { Exclusion, ExclusionCounts } from './vocabulary.js'

/** Counts what is left out; zero leaves no entry behind. */
export function addCount(counts: ExclusionCounts, reason: Exclusion, n: number): void {
  if (n > 0) counts[reason] = (counts[reason] ?? 0) + n
}

export function addCounts(counts: ExclusionCounts, more: ExclusionCounts): void {
  for (const [reason, n] of Object.entries(more) as [Exclusion, number][]) addCount(counts, reason, n)
}
