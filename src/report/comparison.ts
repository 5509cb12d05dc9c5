import type { ComparedPair, ComparisonEstimate, GrabComparison } from '../core/explainComparison.js'
import { sayInstant } from '../model/time.js'
import type { Fact } from './facts.js'
import { sayNumber, sayPercent, saySigned, sayStatistic } from './say.js'

export const COMPARISON_TITLE = 'Analyzer against grab samples'

/** What the line says in numbers, for page and terminal alike. */
export function comparisonFacts(comparison: GrabComparison): readonly Fact[] {
  const { line, missing } = comparison
  return [
    { label: 'Grab samples', value: sayPairs(comparison) },
    ...(missing === undefined ? [] : [{ label: 'No line', value: missing }]),
    ...(line === undefined
      ? []
      : [
          { label: 'Zero', value: sayEstimate(line.zeroNtu, saySigned, ' NTU') },
          { label: 'Span', value: sayEstimate(line.spanRel, sayPercent, ' %') },
          { label: 'Reads right', value: sayReadsRight(line.told?.readsRight) },
          ...(line.told === undefined
            ? []
            : [
                {
                  label: `Bias by the line at ${sayNumber(line.told.levelNtu)} NTU`,
                  value: sayEstimate(line.told.biasNtu, saySigned, ' NTU'),
                },
              ]),
          { label: 'Scatter about the line', value: sayScatter(line.scatterRatio) },
        ]),
  ]
}

/** What has to be known to read those numbers rightly. */
export function comparisonRemarks(comparison: GrabComparison): readonly string[] {
  const { line, laboratoryOffsetNtu, pairs } = comparison
  return [
    ...(line !== undefined && line.told === undefined ? [sayNarrow(line.spanRel, pairs)] : []),
    ...(pairs.length > 0 && Number(saySigned(laboratoryOffsetNtu)) !== 0
      ? [
          `Grab values are shifted here by ${saySigned(laboratoryOffsetNtu)} NTU, which is taken to be the laboratory's own, as in the chart of the grab samples.`,
        ]
      : []),
    'This describes all these grab samples together, whatever changed among them. What is asked rests on the charts ' +
      'and on the explanations that were weighed, not on this line.',
  ]
}

function sayPairs({ pairs, bounds, sinceMs }: GrabComparison): string {
  const range = pairs.length === 0 ? '' : `, ${sayRange(pairs)}`
  const since = sinceMs === undefined ? '' : `, since the adjusting work of ${sayInstant(sinceMs)}`
  const left = bounds === 0 ? '' : `; without ${String(bounds)} reported as above or below a bound`
  return `${String(pairs.length)} used${range}${since}${left}`
}

function sayRange(pairs: readonly ComparedPair[]): string {
  const levels = pairs.map(pair => pair.grabNtu)
  return `from ${sayNumber(Math.min(...levels))} to ${sayNumber(Math.max(...levels))} NTU`
}

function sayReadsRight(readsRight: boolean | undefined): string {
  if (readsRight === undefined) return 'not told: the range of the water is too narrow'
  return readsRight
    ? 'yes, as far as these samples tell: zero 0 and span 0 % together lie inside the joint 95 % region'
    : 'no: zero 0 and span 0 % together lie outside the joint 95 % region; whether it matters the tolerance says'
}

function sayNarrow({ ci95: [lower, upper] }: ComparisonEstimate, pairs: readonly ComparedPair[]): string {
  const reach = Math.max(1, Math.round(50 * (upper - lower)))
  return (
    `The water ranged only ${sayRange(pairs)}, too narrow to tell zero from span: the span is known to ` +
    `± ${String(reach)} % at best, and a zero error could pass for a span error or hide one. Only the bias at that ` +
    'level can be told.'
  )
}

function sayScatter(ratio: number): string {
  return ratio > 1
    ? `variance ${sayStatistic(ratio)} times what the uncertainties explain; the intervals are widened for it`
    : 'no more than the uncertainties explain'
}

function sayEstimate(
  { value, ci95: [lower, upper] }: ComparisonEstimate,
  say: (value: number) => string,
  unit: string,
): string {
  return `${say(value)}${unit}, 95 % interval ${say(lower)} to ${say(upper)}${unit}`
}
