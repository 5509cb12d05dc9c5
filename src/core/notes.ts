import type { SuspectData, WorkVerdictData } from '../model/events.js'

/**
 * Something the fold has to say once. A rebuild makes its notes again; the key says whether one was published, so
 * that nothing is said twice and nothing published is unsaid.
 */
export type Note = { readonly key: string; readonly atMs: number } & (
  | { readonly type: 'reference.suspect'; readonly data: SuspectData }
  | {
      readonly type: 'work.confirmed' | 'work.not_confirmed' | 'work.undecided'
      readonly data: Omit<WorkVerdictData, 'recommendation'>
    }
)
