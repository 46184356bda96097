/* What the trial book takes along: invented, on the island of the demonstration. */

import type { Satchel } from '../contract';
import { today } from '../parts/clock';

const LONG = 'Guðbjörg Þorvaldsdóttir-Featherstonehaugh of the Upper Steading Beekeeping Partnership';

export function trialSatchel(): Satchel {
  const on = today();
  const apiary = (key: string, longitude: number, latitude: number, colonies: number, more: object = {}) => ({
    apiary: key, longitude, latitude, precision_m: 100, colonies, keeper: `k-${key}`, notes: null, case_state: null,
    last_visited_on: '2025-06-11', history: [{ on: '2025-06-11', text: 'Swept by O. Brask: 8 colonies looked at, none suspect' }],
    ...more,
  });
  return {
    satchel: 'trial', made_at: new Date().toISOString(), on, who: 'Ottar Brask', inspector: 'brask', role: 'inspector',
    stops: [
      { apiary: 'SK-0041', order: 1, arrive: '09:20', leave: '10:10', purpose: 'sweep', why: ['900 m from the confirmed apiary SK-0007', 'Not looked at since June 2025'], bring: ['two field kits', 'clean gloves'] },
      { apiary: 'SK-0112', order: 2, arrive: '10:35', leave: '12:55', purpose: 'sweep', why: ['1.9 km from the confirmed apiary SK-0007; same keeper bought a nucleus there'], bring: [] },
      { apiary: 'SK-0200', order: 3, arrive: '13:20', leave: '14:00', purpose: 'reinspection', why: ['Six weeks after clearance'], bring: ['sample boxes'] },
    ],
    candidates: [
      { apiary: 'SK-0112', score: 0.31, reasons: ['1.9 km from SK-0007'] },
      { apiary: 'SK-0041', score: 0.22, reasons: ['0.9 km from SK-0007'] },
    ],
    apiaries: [
      apiary('SK-0041', 0.421, 54.812, 12, { notes: 'Gate code with the keeper. Behind the third barn, past the old quarry.' }),
      apiary('SK-0112', 0.436, 54.822, 40),
      apiary('SK-0200', 0.402, 54.798, 6, { case_state: 'in_reinspection' }),
      apiary('SK-0007', 0.43, 54.8085, 9, { case_state: 'confirmed' }),
    ],
    keepers: [
      { keeper: 'k-SK-0041', name: 'Ingrid Moe', phone: '+44 1632 960041', address: 'Moe Farm, Vimmvoe' },
      { keeper: 'k-SK-0112', name: LONG, phone: null, address: 'The Old Granary, Upper Steading by Long Water, near Vimmvoe' },
      { keeper: 'k-SK-0200', name: 'Aud Lunde', phone: '+44 1632 960200', address: null },
    ],
    outbreaks: [
      { outbreak: 'AFB-2026-1', disease: 'AFB', radii_m: [3000, 5000], cases: [{ apiary: 'SK-0007', state: 'confirmed', longitude: 0.43, latitude: 54.8085 }] },
    ],
    lots: [
      { lot: 'L-22', kit: 'lateral_flow_afb', expires_on: '2027-03-01', count: 10 },
      { lot: 'L-09', kit: 'lateral_flow_efb', expires_on: '2026-01-01', count: 4 },
    ],
    rules: [
      { key: 'notify', text: 'Suspicion is told to the authority at once.', source: 'Common practice' },
      { key: 'standstill', text: 'From suspicion on nothing leaves the apiary: bees, combs, products, tools.', source: 'Common practice' },
    ],
    limits: { lead: null },
    words_locale: 'en',
    ...({ lead: { name: 'Sigrun Aas', phone: '+44 1632 960001' } } as object),
  };
}
