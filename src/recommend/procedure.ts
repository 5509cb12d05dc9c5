import type { RecommendationData } from '../model/events.js'
import type { Analyzer, Plant } from '../model/plant.js'
import type { Action } from '../model/vocabulary.js'
import { zeroMethodFor } from './decide.js'

type Procedure = RecommendationData['procedure']

/** Said with every request that takes somebody to the analyzer. Common practice, no source. */
const CAUTIONS = [
  'Local codes, site procedures and licensed practice come first; this is advice.',
  'Tell the control room and take the signal out of control, alarm and reporting use by site procedure before touching anything.',
  'Close the inlet and outlet valves and relieve the pressure before opening the flow cell.',
  'Do not look into the light source; do not touch optical faces.',
  'Handle formazin and other standards by their safety data sheet.',
  'Never adjust on flowing process water, to a grab sample or to a neighbouring analyzer.',
] as const

const BEGIN = [
  'Tell the control room; hold outputs by site procedure; set maintenance on.',
  'Take a grab sample at the point and note the time to the minute.',
  'Read as found, untouched, and write it down: after cleaning the evidence is gone.',
] as const

const END = [
  'Wait until bubbles are out, keep ambient light out (cover closed), and accept only a steady reading.',
  'Write down as left; return to service when the process reading is steady; set maintenance off.',
  'Take a second grab sample: it proves the work.',
] as const

/**
 * The steps for an action in the fixed order: as found, clean, read again, adjust only if outside, as left.
 * @param levelNtu present level of the point: it decides how zero is set
 */
export function procedureFor(
  action: Action,
  analyzer: Analyzer | undefined,
  plant: Plant,
  levelNtu: number,
): Procedure {
  if (analyzer === undefined || action === 'take_grab' || action === 'check_laboratory') return atADesk(action)
  const zeroMethod = zeroMethodFor(plant, levelNtu)
  const zero = zeroStep(zeroMethod)
  const standard = plant.standards.find(one => one.type === 'secondary_standard' && one.analyzer === analyzer.id)
  const span = spanStep(analyzer, standard?.id)
  const withZero = { zeroMethod }
  const withSpan = {
    spanReference: 'secondary_standard' as const,
    ...(standard === undefined
      ? {}
      : {
          standard: {
            id: standard.id,
            assignedNtu: standard.assignedNtu,
            ...(standard.expires === undefined ? {} : { expires: standard.expires }),
          },
        }),
  }
  switch (action) {
    case 'zero':
      return full({ ...withZero }, [
        ...BEGIN,
        'Clean the window and the cell; read again.',
        zero,
        'Check the span on its standard; adjust it only if it is outside its limit.',
        ...END,
      ])
    case 'zero_and_span':
      return full({ ...withZero, ...withSpan }, [
        ...BEGIN,
        'Clean the window and the cell; read again.',
        zero,
        span,
        ...END,
      ])
    case 'span':
      return full({ ...withSpan }, [
        ...BEGIN,
        'Clean the window and the cell; read again.',
        'Check zero first: span alone is right only because zero was set lately.',
        span,
        ...END,
      ])
    case 'clean_then_verify':
      return full({}, [
        ...BEGIN,
        'Clean the window and the cell; read again before adjusting anything.',
        'If the reading has not come back, check zero and report it; do not adjust yet.',
        ...END,
      ])
    case 'inspect':
      return full({ ...withZero, ...withSpan }, [
        ...BEGIN,
        'Look at the light source, its level and its age; the windows; the cell; water or dirt inside.',
        'Renew the light source by the maker’s procedure where its level has fallen.',
        'A new light source calls for a primary calibration; afterwards assign the secondary standard anew.',
        ...END,
      ])
    case 'verify':
      return full({ ...withSpan }, [
        ...BEGIN,
        `Read the standard ${standard?.id ?? 'assigned on this analyzer'}; do not adjust.`,
        ...END,
      ])
    case 'calibrate_primary':
      return full({ ...withZero, spanReference: 'primary_standard' }, [
        ...BEGIN,
        'Clean the window and the cell; read again.',
        zero,
        'Calibrate on a primary standard by the maker’s procedure.',
        'Assign the secondary standard anew, right away, on this analyzer.',
        ...END,
      ])
    case 'check_signal':
      return full({}, [
        'Compare the local display with the recorded value, to the last digit.',
        'Check the output, the cable, the input card, the gateway and the scaling on both sides.',
        'Tell the control room that the value is not to be used until it moves again.',
      ])
    case 'check_sample_line':
      return full({}, [
        'Look at the sample: flow, pressure, the debubbler, the pump and what was changed last.',
        'Look for air drawn in at fittings; degas or raise back pressure by site procedure.',
        'Let the reading settle before using it.',
      ])
  }
}

function full(parts: Partial<Procedure>, steps: readonly string[]): Procedure {
  return { ...parts, steps: [...steps], cautions: [...CAUTIONS] }
}

function atADesk(action: Action): Procedure {
  const steps =
    action === 'check_laboratory'
      ? [
          'Check the laboratory instrument on a standard in date, before and after cleaning its cell.',
          'Repeat the last samples that can still be repeated; note instrument, lot and time.',
          'Leave the analyzers alone until the laboratory is sure.',
        ]
      : [
          'Take a grab sample at the point, time to the minute, and a second one half an hour later or more.',
          'Do not touch the analyzers before the results are in.',
        ]
  return { steps, cautions: [CAUTIONS[0], CAUTIONS[4]] }
}

function zeroStep(method: 'zero_water' | 'source_off'): string {
  return method === 'zero_water'
    ? 'Set zero on zero water, source on. Zero water is filtered to 0.2 µm or finer and itself reads about 0.01 to 0.03 NTU: prove it first.'
    : 'Set zero with the source off (dark response); this will do at this level.'
}

function spanStep(analyzer: Analyzer, standard: string | undefined): string {
  return standard === undefined
    ? `Set span on a secondary standard assigned on ${analyzer.id} (none is in the register), after zero.`
    : `Set span on ${standard}, the standard assigned on ${analyzer.id}, after zero; no other analyzer’s standard will do.`
}
