import type { RecommendationData } from '../model/events.js'
import type { StandardType } from '../model/messages.js'
import type { Analyzer, Plant, RegisteredStandard } from '../model/plant.js'
import type { Action, Cause } from '../model/vocabulary.js'
import { CAUTIONS } from './cautions.js'
import { zeroMethodFor } from './decide.js'
import {
  AS_LEFT,
  ASSIGN_ANEW,
  BEGIN,
  CLEAN,
  END,
  inspectionSteps,
  onlyIfOutside,
  primaryStep,
  readStandardStep,
  readZeroStep,
  spanStep,
  zeroStep,
} from './procedureSteps.js'
import { labelOf } from './standards.js'

type Procedure = RecommendationData['procedure']

/** References of the register that serve one analyzer; undefined where it has none of that type. */
type References = Readonly<Record<Exclude<StandardType, 'source_off'>, RegisteredStandard | undefined>>

/**
 * The steps for an action in the fixed order: control room, grab, as found, clean, read again, adjust only if outside,
 * as left, back in service, second grab. The cautions come with every action.
 * @param levelNtu present level of the point: it decides how zero is set
 * @param cause the likeliest: it decides what an inspection begins with
 */
export function procedureFor(
  action: Action,
  analyzer: Analyzer | undefined,
  plant: Plant,
  levelNtu: number,
  cause: Cause = 'undecided',
): Procedure {
  if (analyzer === undefined || action === 'take_grab' || action === 'check_laboratory') return atADesk(action)
  const zeroMethod = zeroMethodFor(plant, levelNtu)
  const references = referencesOf(analyzer, plant)
  const { secondary_standard: standard, primary_standard: primary } = references
  const zero = zeroStep(zeroMethod, references.zero_water)
  const water = zeroMethod === 'zero_water' ? references.zero_water : undefined
  switch (action) {
    case 'zero':
      return full({ zeroMethod, ...bringing(water, standard) }, [
        ...BEGIN,
        CLEAN,
        onlyIfOutside(analyzer),
        zero,
        'Check the span on its standard; adjust it only if it is outside its limit.',
        AS_LEFT,
        ...END,
      ])
    case 'zero_and_span':
      return full({ zeroMethod, ...withSpan(standard), ...bringing(water, standard) }, [
        ...BEGIN,
        CLEAN,
        onlyIfOutside(analyzer),
        zero,
        spanStep(analyzer, standard),
        AS_LEFT,
        ...END,
      ])
    case 'span':
      return full({ ...withSpan(standard), ...bringing(water, standard) }, [
        ...BEGIN,
        CLEAN,
        'Check zero first: span alone is right only because zero was set lately.',
        onlyIfOutside(analyzer),
        spanStep(analyzer, standard),
        AS_LEFT,
        ...END,
      ])
    case 'clean_then_verify':
      return full({ ...bringing(water) }, [
        ...BEGIN,
        'Clean the window and the cell; read again before adjusting anything.',
        'If the reading has not come back, check zero and report it; do not adjust yet.',
        AS_LEFT,
        ...END,
      ])
    case 'inspect':
      return full({ zeroMethod, ...withSpan(standard), ...bringing(water, standard, primary) }, [
        ...BEGIN,
        ...inspectionSteps(cause),
        AS_LEFT,
        ...END,
      ])
    case 'verify':
      return full({ zeroMethod, ...withSpan(standard), ...bringing(water, standard) }, [
        ...BEGIN,
        readZeroStep(zeroMethod, references.zero_water),
        readStandardStep(analyzer, standard),
        AS_LEFT,
        ...END,
      ])
    case 'calibrate_primary':
      return full({ zeroMethod, spanReference: 'primary_standard', ...bringing(water, primary, standard) }, [
        ...BEGIN,
        CLEAN,
        onlyIfOutside(analyzer),
        zero,
        primaryStep(primary),
        AS_LEFT,
        ASSIGN_ANEW,
        ...END,
      ])
    case 'check_signal':
      return full({}, [
        'Tell the control room that the value is not to be used until it moves again; hold outputs by site procedure.',
        'Compare the local display with the recorded value, to the last digit, and write both down.',
        'Check the output, the cable, the input card, the gateway and the scaling on both sides.',
        'Tell the control room when display and record agree again; release the outputs by site procedure.',
      ])
    case 'check_sample_line':
      return full({}, [
        'Tell the control room; hold outputs by site procedure where the flow is touched.',
        'Look at the sample: flow, pressure, the debubbler, the pump and what was changed last.',
        'Look for air drawn in at fittings; degas or raise back pressure by site procedure.',
        'Let the reading settle before using it; tell the control room.',
      ])
  }
}

function referencesOf(analyzer: Analyzer, { standards }: Plant): References {
  const find = (type: StandardType): RegisteredStandard | undefined =>
    standards.find(one => one.type === type && one.analyzer === analyzer.id) ??
    standards.find(one => one.type === type && one.analyzer === undefined && type !== 'secondary_standard')
  return {
    zero_water: find('zero_water'),
    secondary_standard: find('secondary_standard'),
    primary_standard: find('primary_standard'),
  }
}

function withSpan(standard: RegisteredStandard | undefined): Partial<Procedure> {
  return {
    spanReference: 'secondary_standard',
    ...(standard === undefined ? {} : { standard: labelOf(standard) }),
  }
}

/** What to take along of the register's references, in the order of use. */
function bringing(...standards: readonly (RegisteredStandard | undefined)[]): Pick<Procedure, 'bring'> {
  const bring = standards.flatMap(standard =>
    standard === undefined ? [] : [{ type: standard.type, ...labelOf(standard) }],
  )
  return bring.length === 0 ? {} : { bring }
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
  return full({}, steps)
}
