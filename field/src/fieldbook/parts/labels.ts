/* Labels of samples: read by the camera where the browser can, else typed with a check. */

/* Letters, figures and what label printers put between them. */
const FORM = /^[A-Z0-9][A-Z0-9./-]{1,38}[A-Z0-9]$/;
export const CHECKED_LETTERS = 3;

export function cleanLabel(text: string): string {
  return text.trim().toUpperCase().replace(/\s+/g, '');
}

export type LabelFault = 'form' | 'again' | 'used';

/* What is wrong with a typed label, or null. `again` is its end, typed a second time. */
export function labelFault(label: string, again: string, used: readonly string[]): LabelFault | null {
  if (!FORM.test(label)) return 'form';
  if (used.includes(label)) return 'used';
  return label.slice(-CHECKED_LETTERS) === cleanLabel(again) ? null : 'again';
}

interface Detector {
  detect(source: HTMLVideoElement): Promise<{ rawValue: string }[]>;
}

export function canScan(): boolean {
  return 'BarcodeDetector' in window && !!navigator.mediaDevices?.getUserMedia;
}

/* Look through the camera until a code is seen; gives a way to stop. */
export async function scan(video: HTMLVideoElement, onfound: (text: string) => void): Promise<() => void> {
  const Made = (window as unknown as { BarcodeDetector: new () => Detector }).BarcodeDetector;
  const detector = new Made();
  const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment' } });
  let isOver = false;
  const stop = (): void => {
    isOver = true;
    for (const track of stream.getTracks()) track.stop();
  };
  video.srcObject = stream;
  await video.play();
  const look = async (): Promise<void> => {
    while (!isOver) {
      const [seen] = await detector.detect(video).catch(() => []);
      if (seen?.rawValue) {
        stop();
        onfound(seen.rawValue);
      }
      await new Promise((done) => setTimeout(done, 200));
    }
  };
  void look();
  return stop;
}
