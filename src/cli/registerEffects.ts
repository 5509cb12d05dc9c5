/** What a changed field of the register does to charts that are running. */
export type Effect = 'limits_anew' | 'lines_restart' | 'charts_go_on'

export const EFFECT_TEXT: Readonly<Record<Effect, string>> = {
  limits_anew: 'charts go on; limits are solved anew with the next value',
  lines_restart: 'lines of evidence at the point begin anew',
  charts_go_on: 'charts go on as they are',
}

const RULES: readonly (readonly [RegExp, Effect])[] = [
  [/^points\.[^.]+$/, 'lines_restart'],
  [/^points\.[^.]+\.analyzers(\.[^.]+)?$/, 'lines_restart'],
  [/^points\.[^.]+\.class$/, 'limits_anew'],
  [/\.(tolerance|grab)(\.|$)/, 'limits_anew'],
  [/^(falseAlarmBudget|detection)(\.|$)/, 'limits_anew'],
]

/** @param path of the changed field, as a register message lists it */
export function effectOf(path: string): Effect {
  return RULES.find(([pattern]) => pattern.test(path))?.[1] ?? 'charts_go_on'
}
